"""The pages of the handbook, in their order, and what stands in them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from markdown_it.token import Token

PAGES: Final = (
    "start",
    "measuring",
    "inputs",
    "lines",
    "readings",
    "uncertainty",
    "findings",
    "models",
    "editions",
    "studies",
    "annex",
    "python",
    "gallery",
)
"""Names of the pages, in the order in which one would read them."""
CODE_SHOWN: Final = ("gallery",)
"""Pages on which the code of a picture is part of what is shown."""
PICTURE: Final = "picture="
"""How a fence of Python says, after its language, which picture its code makes."""


@dataclass(frozen=True)
class Page:
    """One page: its name, its Markdown, and its parts."""

    name: str
    text: str

    @property
    def tokens(self) -> list[Token]:
        """Parts of the page, as the Markdown library gives them."""
        return tokens(self.text)

    @property
    def title(self) -> str:
        """Heading of the page."""
        return self.text.partition("\n")[0].removeprefix("# ").strip()

    @property
    def answers(self) -> str:
        """What the page answers, in one line."""
        body = self.text.partition("\n")[2].strip()
        return " ".join(body.partition("\n\n")[0].split())


def tokens(text: str) -> list[Token]:
    """Parts of Markdown text; HTML in it stays text."""
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).enable("table").parse(text)


def home() -> Traversable:
    """Return the folder of the pages."""
    return files("frontcheck").joinpath("handbook")


@cache
def page(name: str) -> Page:
    """Return a page by its name."""
    return Page(name, home().joinpath(f"{name}.md").read_text("utf-8"))


def pages() -> tuple[Page, ...]:
    """Return the pages that are there, in order."""
    return tuple(page(name) for name in PAGES if home().joinpath(f"{name}.md").is_file())


def anchors(text: str) -> list[str]:
    """Return what a link to each heading says after ``#``: its words, small, hyphens between."""
    made: list[str] = []
    for _, words in headings(text):
        kept = re.sub(r"[^\w\s-]", "", words.strip().casefold())
        name = re.sub(r"\s", "-", kept)
        again = sum(re.fullmatch(rf"{re.escape(name)}(-\d+)?", each) is not None for each in made)
        made.append(f"{name}-{again}" if again else name)
    return made


def headings(text: str) -> list[tuple[int, str]]:
    """Level and words of every heading of a page."""
    found = tokens(text)
    return [
        (int(each.tag[1:]), said(found[i + 1]))
        for i, each in enumerate(found)
        if each.type == "heading_open"
    ]


def is_picture(token: Token) -> bool:
    """Whether it is the code that makes a picture."""
    return token.type == "fence" and f" {PICTURE}" in token.info


def said(inline: Token) -> str:
    """Words of a line with its marks left out."""
    return "".join(
        each.content if each.type in ("text", "code_inline") else " "
        for each in inline.children or ()
        if each.type in ("text", "code_inline", "softbreak", "hardbreak")
    )
