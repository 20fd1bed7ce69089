"""The handbook as one HTML file: every page and the reference, read without a network or script."""

from __future__ import annotations

import re
from base64 import b64encode
from functools import cache
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from frontcheck import __version__
from frontcheck.caution import CAUTION
from frontcheck.files import check_own, write_file
from frontcheck.outputs.pages.book_pages import (
    CODE_SHOWN,
    anchors,
    home,
    is_picture,
    pages,
    said,
)
from frontcheck.outputs.pages.book_reference import reference

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from markdown_it import MarkdownIt
    from markdown_it.token import Token

    from frontcheck.outputs.pages.book_pages import Page

MARK: Final = '<meta name="generator" content="frontcheck">'
"""By which a file that stands in the way is known for one of ours."""
_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
_PAGE_LINK: Final = re.compile(r"([a-z]+)\.md(?:#(.+))?")
_IMAGE: Final = re.compile(r"pictures/([\w-]+)\.png")


@cache
def handbook_html() -> bytes:
    """Return the handbook as a file; the same version always gives the same bytes."""
    from jinja2 import Environment, StrictUndefined

    templates = files(__package__).joinpath("templates")
    made = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    ).from_string(templates.joinpath("book.html").read_text("utf-8"))
    shown = made.render(
        mark=MARK,
        policy=_POLICY,
        style=templates.joinpath("book.css").read_text("utf-8"),
        caution=CAUTION,
        version=__version__,
        pages=[(page, page_html(page)) for page in pages()],
        reference=[(_named(heading), heading, each) for heading, each in reference().items()],
        prose=_prose,
        cell=_cell,
        code=code_html,
    )
    return shown.encode()


def write_handbook(path: str | os.PathLike[str]) -> Path:
    """Write the handbook as one HTML file: every page, and the reference of the public names.

    It is read without a network, and holds no script.

    Parameters
    ----------
    path : str or os.PathLike
        The file.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    OutputError
        If it cannot be written, or a file of this name is there that is not a handbook of ours;
        what stood there before is then as it was.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.write_handbook("handbook.html").name
    'handbook.html'
    """
    target = Path(path)
    check_own(target, MARK)
    write_file(target, handbook_html())
    return target


def page_html(page: Page) -> str:
    """Return a page as part of the file: headings a step lower, links within the file."""
    found, heads = page.tokens, []
    places = iter(anchors(page.text))
    for i, token in enumerate(found):
        if token.type == "heading_open":
            place = next(places)
            token.attrSet("id", page.name if token.tag == "h1" else f"{page.name}-{place}")
            if token.tag == "h2":
                heads.append((str(token.attrGet("id")), said(found[i + 1])))
        if token.type in ("heading_open", "heading_close"):
            token.tag = f"h{min(int(token.tag[1:]) + 1, 6)}"
        for child in token.children or ():
            _led(child, page.name)
        if [child.type for child in token.children or ()] == ["image"]:
            found[i - 1].attrSet("class", "picture")
            found[i - 1].attrSet("tabindex", "0")
    writer = _writer()
    shown = str(writer.renderer.render(_under(found), writer.options, {"page": page.name}))
    for old, new in (
        ("<table>", '<div class="scroll" tabindex="0"><table>'),
        ("</table>", "</table></div>"),
    ):
        shown = shown.replace(old, new)
    there = ", ".join(f'<a href="#{place}">{escape(words)}</a>' for place, words in heads)
    shown = shown.replace("<p>", '<p class="answers">', 1)
    return shown.replace("</p>\n", f'</p>\n<p class="heads">{there}</p>\n', 1 if there else 0)


def _led(child: Token, name: str) -> None:
    """Lead a link or picture to where it is in the file."""
    link, image = str(child.attrGet("href") or ""), str(child.attrGet("src") or "")
    if page := _PAGE_LINK.fullmatch(link):
        child.attrSet("href", f"#{page[1]}-{page[2]}" if page[2] else f"#{page[1]}")
    elif link.startswith("#"):
        child.attrSet("href", f"#{name}-{link[1:]}")
    if picture := _IMAGE.fullmatch(image):
        data = home().joinpath("pictures", f"{picture[1]}.png").read_bytes()
        width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
        child.attrSet("src", f"data:image/png;base64,{b64encode(data).decode()}")
        child.attrSet("width", str(width))
        child.attrSet("height", str(height))


def _under(found: Sequence[Token]) -> list[Token]:
    """Tokens with the code of a picture below the picture, where it stands above it."""
    out = list(found)
    for i in range(len(out) - 3):
        inline = out[i + 2]
        image = [child.type for child in inline.children or ()] == ["image"]
        if is_picture(out[i]) and out[i + 1].type == "paragraph_open" and image:
            out[i : i + 4] = [*out[i + 1 : i + 4], out[i]]
    return out


@cache
def _writer() -> MarkdownIt:
    from markdown_it import MarkdownIt

    made = MarkdownIt("commonmark", {"html": False}).enable("table")
    made.add_render_rule("fence", _fence)
    made.add_render_rule("code_block", _fence)
    made.add_render_rule("code_inline", _inline)
    return made


def _fence(_: Any, tokens: Sequence[Token], at: int, __: Any, env: dict[str, str]) -> str:
    shown = code_html(tokens[at].content)
    if is_picture(tokens[at]) and env.get("page") not in CODE_SHOWN:
        return f"<details><summary>The Python that draws it</summary>{shown}</details>\n"
    return shown


def _inline(_: Any, tokens: Sequence[Token], at: int, __: Any, env: dict[str, str]) -> str:
    """Code within a line; a public name leads to what is said of it."""
    text = tokens[at].content
    shown = f"<code>{escape(text)}</code>"
    name = text.removeprefix("fc.").partition("(")[0]
    before = [each.type for each in tokens[:at]]
    inside = before.count("link_open") > before.count("link_close")
    known = name in _names() and (text.startswith("fc.") or env.get("page") is None)
    return f'<a href="#api-{name}">{shown}</a>' if known and not inside else shown


@cache
def _names() -> frozenset[str]:
    return frozenset(entry.name for entries in reference().values() for entry in entries)


def code_html(text: str) -> str:
    """Return code as a block that scrolls within itself."""
    return f'<pre tabindex="0"><code>{escape(text.rstrip())}</code></pre>\n'


def _prose(text: str) -> str:
    return str(_writer().render(text))


def _cell(text: str) -> str:
    return str(_writer().renderInline(" ".join(text.split())))


def _named(heading: str) -> str:
    return f"reference-{heading.casefold().replace(' ', '-')}"
