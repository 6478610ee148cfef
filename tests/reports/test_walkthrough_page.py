"""The walkthrough's page: needs nothing else, lets nothing else run, escapes every word, and stays small."""

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.dialogue.talker import shipped
from tests.replay.jobs import session_lines, spoken_job, typed_job
from voicetech.events import Channel
from voicetech.heard import Alternative, Heard
from voicetech.job import open_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import sound_path
from voicetech.journal.store import Journal, open_journal
from voicetech.marks import Commented, Misheard
from voicetech.reports.walkthrough.facts import walkthrough_of
from voicetech.reports.walkthrough.page import render_walkthrough
from voicetech.reports.walkthrough.waves import outline, path_of

MEGABYTE = 1_000_000
HOSTILE = '</script><script>alert(1)</script>" onload=x \N{RIGHT-TO-LEFT OVERRIDE}abc\x07'


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with open_journal(journal_path(tmp_path)) as opened:
        yield opened


class Elements(HTMLParser):
    """Gathers what a page is made of."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.found if name == tag]


def page_of(journal: Journal, *lines: str, served: bool = False, nonce: str | None = None) -> str:
    typed_job(journal, "one", lines)
    facts = walkthrough_of(shipped(), journal.readable_events("one"), journal.marks("one"))
    return render_walkthrough(facts, {}, record_id=journal.record_id, served=served, nonce=nonce)


def test_it_needs_nothing_else(journal: Journal) -> None:
    page = page_of(journal, *session_lines("bake-element-repaired"))
    elements = Elements(page)
    assert [link["href"] for link in elements.all("link")] == ["data:,"]
    assert not elements.all("img")
    assert not elements.all("iframe")
    assert all("src" not in script for script in elements.all("script"))
    assert "http://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "https://" not in page
    assert all((a["href"] or "").startswith("#") for a in elements.all("a"))


def test_only_its_own_script_and_style_may_run(journal: Journal) -> None:
    page = page_of(journal, "no")
    (policy,) = [meta["content"] for meta in Elements(page).all("meta") if "http-equiv" in meta]
    assert policy is not None
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    for tag in ("script", "style"):
        text = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)[-1]
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert not re.search(r"\son\w+=", page.split("<script")[0])
    assert "style=" not in page.split("<script")[0]
    served = page_of_served(journal)
    assert 'nonce="abc"' in served
    assert "Content-Security-Policy" not in served


def page_of_served(journal: Journal) -> str:
    facts = walkthrough_of(shipped(), journal.readable_events("one"))
    return render_walkthrough(facts, {}, record_id="r", served=True, nonce="abc")


def test_words_are_never_markup(journal: Journal) -> None:
    job, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 5.0)
    job.typed(f"note: {HOSTILE}")
    job.heard(Heard((Alternative(HOSTILE, 0.6), Alternative("bake", 0.3)), HOSTILE, 0.9, HOSTILE), Channel.VOICE)
    journal.add_marks("one", [Commented(None, HOSTILE, HOSTILE, 1.0), Misheard(9, HOSTILE, "Ann", 1.0)])
    facts = walkthrough_of(shipped(), journal.readable_events("one"), journal.marks("one"))
    page = render_walkthrough(facts, {}, record_id="r", served=False)
    assert "<script>alert" not in page
    assert len(Elements(page).all("script")) == 3
    assert "\x07" not in page
    assert "alert(1)" in page, "the words themselves are shown"
    data = re.findall(r'<script type="application/json" id="data">(.*?)</script>', page, re.DOTALL)[0]
    assert json.loads(data)["job"] == "one"


def test_every_turn_can_be_found_and_reviewed(journal: Journal) -> None:
    elements = Elements(page_of(journal, *session_lines("lost-leg-handed-over")))
    articles = elements.all("article")
    facts = walkthrough_of(shipped(), journal.readable_events("one"))
    assert [article["id"] for article in articles] == [f"e{turn.number}" for turn in facts.turns]
    ids = [attributes["id"] for _, attributes in elements.found if "id" in attributes]
    assert len(ids) == len(set(ids))
    labelled = {each for _, attributes in elements.found for each in (attributes.get("aria-labelledby") or "").split()}
    assert labelled <= set(ids)
    assert elements.all("html")[0]["lang"] == "en"
    assert len(elements.all("h1")) == len(elements.all("main")) == 1


def test_sounds_are_in_the_page_once_and_it_stays_small(tmp_path: Path) -> None:
    spoken_job(tmp_path, "one", 12)
    with open_journal(journal_path(tmp_path)) as journal:
        facts = walkthrough_of(shipped(), journal.readable_events("one"))
        sounds = {name: sound_path(sounds_folder(tmp_path), name).read_bytes() for name in facts.sounds}
        page = render_walkthrough(facts, sounds, record_id=journal.record_id, served=False)
        bare = render_walkthrough(facts, sounds, record_id=journal.record_id, served=False, without_sound=True)
    carried = json.loads(re.findall(r'id="sounds">(.*?)</script>', page)[0])
    assert {name: base64.b64decode(text) for name, text in carried.items()} == sounds
    assert len(page) < 1.5 * MEGABYTE + sum(len(sound) for sound in sounds.values()) * 4 / 3
    assert page.count('<svg class="wave"') == len(facts.sounds)
    assert json.loads(re.findall(r'id="sounds">(.*?)</script>', bare)[0]) == {}
    assert "The sounds were left out of this copy." in bare
    lost = render_walkthrough(facts, {}, record_id="r", served=False)
    assert lost.count("the file is missing or was changed") == len(facts.sounds)


def test_a_job_of_hundreds_of_turns_stays_under_a_megabyte_and_a_half(journal: Journal) -> None:
    page = page_of(journal, *session_lines("bake-element-repaired"), *(f"note: number {n}" for n in range(100)))
    assert len(page.encode()) < 1.5 * MEGABYTE


def test_the_outline_of_a_sound(tmp_path: Path) -> None:
    spoken_job(tmp_path, "one", 1)
    (file,) = (tmp_path / "sounds").iterdir()
    length_s, peaks = outline(file.read_bytes())
    assert 0.3 < length_s < 5
    assert len(peaks) == 120
    assert 0 <= min(peaks) < max(peaks) <= 100
    assert path_of(peaks).startswith("M0 ")
    with pytest.raises(ValueError, match="not a sound"):
        outline(b"no sound at all")
