"""Where every page of a report gets its template from.

Words a technician said are untrusted: everything shown is escaped, and no control character of a recognised or typed
word reaches a page.
"""

from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicetech.language.plural import so_many
from voicetech.reports.wording import inside_quotes, printable


def _printable(shown: object) -> object:
    return printable(shown) if isinstance(shown, str) and not isinstance(shown, Markup) else shown


TEMPLATES: Final = Environment(
    loader=PackageLoader("voicetech.reports"),
    autoescape=True,
    undefined=StrictUndefined,
    finalize=_printable,
    trim_blocks=True,
    lstrip_blocks=True,
)
"""The templates beside this module."""
TEMPLATES.globals["so_many"] = so_many
TEMPLATES.filters["inside_quotes"] = inside_quotes
