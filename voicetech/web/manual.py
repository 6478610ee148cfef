"""The manual in the browser: its list, and each page."""

import re
from collections.abc import Sequence
from functools import cache
from typing import Final

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from voicetech.manual import pages, titles
from voicetech.web.files import PAGES

_NOT_THERE: Final = 404
_PAGE: Final = re.compile(r"([\w-]+)\.md")


def manual_routes() -> Sequence[BaseRoute]:
    """Return the routes of the manual, for a server that has `static` beside them."""
    return (
        Route("/manual", _to_the_folder, methods=["GET"]),
        Route("/manual/", _list, methods=["GET"]),
        Route("/manual/{name}/", _page, methods=["GET"]),
    )


async def _to_the_folder(request: Request) -> Response:
    # The pages are named from their own folder.
    return RedirectResponse(f"{request.url.path.rpartition('/')[2]}/")


async def _list(_request: Request) -> Response:
    return HTMLResponse(PAGES.get_template("manual.html").render(title="Manual", titles=titles(), body="", up="../"))


async def _page(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in pages():
        why = "There is no such page of the manual."
        return HTMLResponse(PAGES.get_template("message.html").render(why=why), _NOT_THERE)
    body = in_html(pages()[name])
    return HTMLResponse(
        PAGES.get_template("manual.html").render(title=titles()[name], titles={}, body=body, up="../../")
    )


@cache
def in_html(text: str) -> str:
    """Return a page in HTML; its links to others lead from one to the other here too."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = reader.parse(text)
    for token in tokens:
        for each in token.children or ():
            page = _PAGE.fullmatch(str(each.attrs.get("href", "")))
            if page is not None:
                each.attrs["href"] = f"../{page[1]}/"
    return str(reader.renderer.render(tokens, reader.options, {}))
