"""Write the reference of the manual anew from the code: `python -m tests.manual.reference`."""

import sys
from collections.abc import Callable, Mapping
from typing import Final

from tests.manual.code_says import PACKAGE
from tests.manual.commands_page import commands_page
from tests.manual.pages import format_page, limits_page, record_page, rules_page, settings_page, words_page
from tests.manual.report_page import report_page

MANUAL: Final = PACKAGE / "manual"
PAGES: Final[Mapping[str, Callable[[], str]]] = {
    "reference-commands": commands_page,
    "reference-settings": settings_page,
    "reference-words": words_page,
    "reference-limits": limits_page,
    "reference-format": format_page,
    "reference-rules": rules_page,
    "reference-record": record_page,
    "reference-report": report_page,
}
"""The pages that are made of the code, each with what makes it."""


def main() -> None:
    """Write every page."""
    for name, made in PAGES.items():
        path = MANUAL / f"{name}.md"
        path.write_text(made(), encoding="utf-8")
        sys.stdout.write(f"{path}\n")


if __name__ == "__main__":
    main()
