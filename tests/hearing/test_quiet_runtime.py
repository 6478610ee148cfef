"""What runs the speech model tells nobody of this computer and leaves no name of it behind."""

import ast
import os
import subprocess
import sys
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "voicetech"
LISTENS = """
from voicetech.hearing.ears import open_ear
ear = open_ear(None)
ear.warm_up()
"""


def test_listening_leaves_nothing_in_the_users_folders(tmp_path: Path) -> None:
    """A name of the computer that is kept there is what such messages are sent under."""
    places = {"HOME": "home", "XDG_CACHE_HOME": "cache", "XDG_DATA_HOME": "data", "LOCALAPPDATA": "local"}
    folders = {name: str(tmp_path / folder) for name, folder in places.items()}
    kept = {name: value for name, value in os.environ.items() if name != "ORT_DISABLE_TELEMETRY"}
    subprocess.run([sys.executable, "-c", LISTENS], env={**kept, **folders}, cwd=PACKAGE.parent, check=True)
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_a_wish_of_the_environment_to_tell_is_not_followed() -> None:
    code = "import os, voicetech.hearing.speech_model; print(os.environ['ORT_DISABLE_TELEMETRY'])"
    told = {**os.environ, "ORT_DISABLE_TELEMETRY": "0"}
    done = subprocess.run(
        [sys.executable, "-c", code], env=told, cwd=PACKAGE.parent, check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "1"


def test_it_is_imported_in_one_place_only() -> None:
    importing = {
        file.relative_to(PACKAGE).as_posix()
        for file in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Import) and any(name.name.split(".")[0] == "onnxruntime" for name in node.names))
        or (isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "onnxruntime")
    }
    assert importing == {"hearing/quiet_runtime.py"}
