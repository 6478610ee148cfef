"""`voicetech procedures`: what the program can be asked to work."""

import json
import sys
from typing import Annotated

import typer


def procedures(
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line: name and title.")] = False,
) -> None:
    """List the procedures that come with the program, as --procedure takes them, with their titles.

    Examples: voicetech procedures, then voicetech chat --procedure dryer
    """
    from voicetech.authoring.procedure_files import shipped_titles

    for name, title in shipped_titles().items():
        line = json.dumps({"name": name, "title": title}) if as_json else f"{name}: {title}"
        sys.stdout.write(f"{line}\n")
