"""The fresh machine's own reading: what was reached, what was fetched, which commands are typed."""

from pathlib import Path

import pytest

from tests.fresh_machine.__main__ import commands, fetched_mb
from tests.fresh_machine.reached import outside, within

UNIX = '12 connect(3, {sa_family=AF_UNIX, sun_path="/var/run/nscd/socket"}, 110) = -1 ENOENT (No such file)\n'
LOOPBACK = '12 connect(5, {sa_family=AF_INET, sin_port=htons(8321), sin_addr=inet_addr("127.0.0.1")}, 16) = 0\n'
LOOPBACK_6 = (
    "12 connect(5, {sa_family=AF_INET6, sin6_port=htons(80), sin6_flowinfo=htonl(0), "
    'inet_pton(AF_INET6, "::1", &sin6_addr), sin6_scope_id=0}, 28) = 0\n'
)


def test_calls_to_the_machine_itself_are_no_calls_outside() -> None:
    trace = UNIX + LOOPBACK + LOOPBACK_6
    assert list(outside(trace)) == []
    assert within(trace) == 2


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (LOOPBACK.replace("127.0.0.1", "192.0.2.7"), "INET 192.0.2.7 port 8321"),
        (LOOPBACK_6.replace("::1", "2001:db8::1"), "INET6 2001:db8::1 port 80"),
        (LOOPBACK.replace("8321", "53"), "a name was looked up at 127.0.0.1"),
        ("9 connect(4, {sa_family=AF_BLUETOOTH, sa_data=[1]}, 16) = 0\n", "BLUETOOTH of a kind not known here port 0"),
        (
            '9 sendto(4, "x", 1, 0, {sa_family=AF_INET, sin_port=htons(9), sin_addr=inet_addr("192.0.2.9")}, 16) = 1\n',
            "INET 192.0.2.9 port 9",
        ),
    ],
)
def test_whatever_else_was_tried_is_told(line: str, told: str) -> None:
    assert list(outside(UNIX + line + LOOPBACK)) == [told]


def test_what_was_fetched_is_counted_once_from_wherever_it_came(tmp_path: Path) -> None:
    wheel = tmp_path / "one-1.0-py3-none-any.whl"
    wheel.write_bytes(b"x" * 500_000)
    log = (
        "10:00   Downloading two-1.0-py3-none-any.whl (1.5 MB)\n"
        "10:00     Downloading two-1.0-py3-none-any.whl (1.5 MB)\n"
        "10:00   Downloading three-1.0.tar.gz (250 kB)\n"
        f"10:00 Processing {wheel}\n"
    )
    assert fetched_mb(log) == pytest.approx(2.25)


def test_both_commands_of_the_readme_are_typed() -> None:
    demo, tests = commands()
    assert demo.endswith("voicetech demo")
    assert "-m pytest" in tests
