"""A page of the handbook on the terminal, and the list of them."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, Any, ClassVar, Final

from frontcheck.caution import CAUTION
from frontcheck.findings.abbreviations import legend
from frontcheck.findings.explanations import WIDTH
from frontcheck.outputs.pages.book_pages import CODE_SHOWN, PAGES, is_picture, pages
from frontcheck.outputs.text.terminal import Ruled

if TYPE_CHECKING:
    from markdown_it.token import Token

    from frontcheck.outputs.pages.book_pages import Page
    from frontcheck.outputs.text.terminal import Style

_WIDEST: Final = 100
"""Columns of a page at most: longer lines are hard to read."""
_SHOWS: Final = "frontcheck handbook --out handbook.html"
_COLOURS: Final = {
    "markdown.h1": "bold underline",
    "markdown.h2": "bold underline",
    "markdown.h3": "bold",
    "markdown.h4": "italic",
    "markdown.code": "cyan",
}
_LINK: Final = re.compile(r"([a-z]+)\.md(?:#.*)?|#.*")


def page_said(page: Page, style: Style) -> str:
    """Return a page as text, the caution last."""
    words = legend(page.text)
    shown = [style.paragraph(words)] if words else []
    shown.append(_rendered(page, style))
    if "](pictures/" in page.text:
        shown.append(style.paragraph(f"The pictures: {_SHOWS}"))
    return "\n".join([*shown, style.paragraph(textwrap.fill(CAUTION, WIDTH), loud=True)])


def pages_said(style: Style) -> str:
    """Return the list of pages, and how to see one or all."""
    room = WIDTH - max(map(len, PAGES)) - 2
    rows = [
        ["" if i else page.name, line]
        for page in pages()
        for i, line in enumerate(textwrap.wrap(page.answers, room))
    ]
    shown = style.table("Pages of the handbook", ["page", "what it answers"], rows)
    here = style.paragraph(f"One of them here: frontcheck explain PAGE\nAll in one file: {_SHOWS}")
    return f"{shown}\n{here}"


def _rendered(page: Page, style: Style) -> str:
    from rich.console import Console
    from rich.markdown import CodeBlock, Heading, Markdown
    from rich.padding import Padding
    from rich.text import Text
    from rich.theme import Theme

    class Head(Heading):
        """A heading at the left margin."""

        def __rich_console__(self, *_: Any) -> Any:
            self.text.justify = "left"
            yield from ([self.text] if self.tag == "h1" else ["", self.text])

    class Code(CodeBlock):
        """Code a step to the right, in no colours but those of the terminal."""

        def __rich_console__(self, *_: Any) -> Any:
            yield Padding(Text(str(self.text).rstrip(), overflow="fold"), (0, 0, 0, 4))

    class Shown(Markdown):
        elements: ClassVar[Any] = {
            **Markdown.elements, "heading_open": Head, "fence": Code, "code_block": Code,
        }  # fmt: skip

    colour = isinstance(style, Ruled)
    console = Console(
        width=max(60, min(style.width, _WIDEST)), force_terminal=colour, no_color=not colour,
        highlight=False, color_system="standard" if colour else None, theme=Theme(_COLOURS),
    )  # fmt: skip
    shown = Shown("", hyperlinks=False)
    shown.parsed = _for_terminal(page)
    with console.capture() as capture:
        console.print(shown)
    return "\n".join(line.rstrip() for line in capture.get().splitlines()) + "\n"


def _for_terminal(page: Page) -> list[Token]:
    """Tokens with a picture in words, and without the code that draws it."""
    kept = []
    for token in page.tokens:
        if is_picture(token) and page.name not in CODE_SHOWN:
            continue
        for child in token.children or ():
            if child.type == "image":
                child.type, child.tag, child.content = "text", "", f"[picture: {child.content}]"
                child.children = None
        token.children = token.children and _without_links(token.children)
        kept.append(token)
    return kept


def _without_links(children: list[Token]) -> list[Token]:
    """Inline parts with a link to another page said in words."""
    from markdown_it.token import Token

    kept: list[Token] = []
    target = ""
    for child in children:
        if child.type == "link_open":
            found = _LINK.fullmatch(str(child.attrGet("href")))
            target = (found[1] or "") if found else str(child.attrGet("href"))
        elif child.type == "link_close":
            if target and (not kept or kept[-1].content != target):
                kept.append(Token("text", "", 0, content=f" (page {target})"))
        else:
            kept.append(child)
    return kept
