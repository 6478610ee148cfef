"""Where things are kept, and names a technician can say."""

from datetime import UTC, timedelta, timezone
from itertools import product
from pathlib import Path

import platformdirs
import pytest

from voicetech.journal.errors import JournalError
from voicetech.journal.place import home_folder, journal_path, new_job_id, ready_home


def test_home_is_the_users_data_folder_unless_named() -> None:
    assert home_folder({}) == platformdirs.user_data_path("voicetech", appauthor=False)
    assert home_folder({"VOICETECH_HOME": ""}) == home_folder({})
    assert home_folder({"VOICETECH_HOME": "/somewhere"}) == Path("/somewhere")
    assert home_folder({"VOICETECH_HOME": "~/jobs"}) == Path.home() / "jobs"
    assert journal_path(Path("/somewhere")) == Path("/somewhere/jobs.db")


def test_a_named_home_is_made_beside_folders_that_exist(tmp_path: Path) -> None:
    home = ready_home({"VOICETECH_HOME": str(tmp_path / "jobs")})
    assert home.is_dir()
    assert ready_home({"VOICETECH_HOME": str(home)}) == home


def test_a_home_on_a_drive_that_is_not_there_is_not_made_up(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="plug the drive in"):
        ready_home({"VOICETECH_HOME": str(tmp_path / "drive" / "jobs")})
    assert not (tmp_path / "drive").exists()


def test_a_file_in_the_place_of_the_home_is_told(tmp_path: Path) -> None:
    (tmp_path / "jobs").write_text("a file")
    for home in (tmp_path / "jobs", tmp_path / "jobs" / "below"):
        with pytest.raises(JournalError, match="VOICETECH_HOME"):
            ready_home({"VOICETECH_HOME": str(home)})


def test_a_job_is_named_by_day_time_letter_and_digit() -> None:
    at_s = 1_795_599_660.0
    assert new_job_id(at_s, bytes([2, 5]), UTC) == "20261125-0941-j7"
    assert new_job_id(at_s, bytes([2, 5]), timezone(timedelta(hours=-5))) == "20261125-0441-j7"


def test_names_sort_by_time_whatever_chance_gave() -> None:
    early = {new_job_id(1_795_599_660.0, bytes(pair), UTC) for pair in product(range(256), (0, 255))}
    late = {new_job_id(1_795_599_720.0, bytes(pair), UTC) for pair in product(range(256), (0, 255))}
    assert max(early) < min(late)


def test_every_ending_of_a_name_can_come_up_and_none_can_be_misheard() -> None:
    endings = {new_job_id(0.0, bytes(pair), UTC)[-2:] for pair in product(range(256), repeat=2)}
    assert len(endings) == 72
    assert not set("bcdegptvmnilo01") & set("".join(endings))


def test_a_name_needs_two_random_bytes() -> None:
    with pytest.raises(ValueError, match="two random bytes"):
        new_job_id(0.0, b"x", UTC)
