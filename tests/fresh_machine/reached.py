"""Who a program tried to reach, of what `strace` wrote down about its calls."""

import re
from collections.abc import Iterator
from ipaddress import ip_address
from typing import Final

_ADDRESS: Final = re.compile(
    r"sa_family=AF_(?P<family>\w+)"
    r"(?:[^}]*?sin6?_port=htons\((?P<port>\d+)\))?"
    r"(?:[^}]*?(?:inet_addr\(\"(?P<four>[^\"]*)\"\)|inet_pton\(AF_INET6, \"(?P<six>[^\"]*)\"))?"
)
_WITHIN: Final = frozenset({"UNIX", "LOCAL", "NETLINK", "UNSPEC"})
"""Families whose other end is the same kernel."""
_NAMES_PORT: Final = 53
"""Without a name server in its settings the C library asks this computer for names."""


def outside(trace: str) -> Iterator[str]:
    """Give every address that is not of this computer, and every attempt to look up a name."""
    for found in _ADDRESS.finditer(trace):
        family, port = found["family"], int(found["port"] or 0)
        if family in _WITHIN:
            continue
        address = found["four"] or found["six"]
        if address is None or not ip_address(address).is_loopback:
            yield f"{family} {address or 'of a kind not known here'} port {port}"
        elif port == _NAMES_PORT:
            yield f"a name was looked up at {address}"


def within(trace: str) -> int:
    """Return how many calls went to this computer, which shows that calls are seen at all."""
    return sum(1 for found in _ADDRESS.finditer(trace) if found["family"] not in _WITHIN) - sum(
        1 for _ in outside(trace)
    )
