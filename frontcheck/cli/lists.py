"""The commands that look things up: ``rules``, ``explain`` and ``handbook``."""

from __future__ import annotations

from pathlib import Path

import click

from frontcheck.caution import CAUTION
from frontcheck.cli.common import guarded, show
from frontcheck.errors import escaped
from frontcheck.outputs.pages.book_pages import PAGES


@click.command()
@click.argument("rules_id", metavar="[ID]", required=False)
def rules(rules_id: str | None) -> None:
    """List the rule sets, or every constant of one with its source and how sure it is.

    \b
    Examples:
      frontcheck rules
      frontcheck rules UN-R127-02
    """
    from frontcheck.rules.ruleset import rule_set, rule_set_ids

    if rules_id is None:
        show(lambda style: style.rule_sets([rule_set(each) for each in rule_set_ids()]))
    else:
        chosen = guarded(lambda: rule_set(rules_id))
        show(lambda style: style.rule_set(chosen))


@click.command()
@click.argument("words", metavar="[WORD]", nargs=-1)
def explain(words: tuple[str, ...]) -> None:
    """Say what a word means, with its source, or show a page of the handbook.

    Words are those of lines, tools, statuses, themes, finding codes and more.

    \b
    Examples:
      frontcheck explain
      frontcheck explain UBRL   # upper bumper reference line
      frontcheck explain balance point
      frontcheck explain LEG-UNDERCUT
      frontcheck explain measuring   # a page of the handbook
    """
    from frontcheck.findings.explanations import KINDS, explanations
    from frontcheck.findings.explanations import explain as explanation
    from frontcheck.outputs.pages.book_terminal import pages_said

    if len(words) == 1 and words[0] in PAGES:  # no word is listed under such a name
        _shown(words[0])
    elif words:
        click.echo(guarded(lambda: explanation(" ".join(words))))
    else:
        known = tuple(explanations().values())
        show(lambda style: f"{pages_said(style)}\n{style.explainable(KINDS, known)}")


@click.command()
@click.argument("name", metavar="[PAGE]", required=False, type=click.Choice(PAGES))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write all of it as one HTML file, which needs no network.",
)
def handbook(name: str | None, out: Path | None) -> None:
    """List the pages of the handbook, show one, or write all of it as one file.

    The file also holds the reference of the Python names. The browser's own find searches it.

    \b
    Examples:
      frontcheck handbook
      frontcheck handbook measuring
      frontcheck handbook --out handbook.html
    """
    from frontcheck.outputs.pages.book_terminal import pages_said

    if name is not None:
        _shown(name)
    elif out is None:
        show(lambda style: f"{pages_said(style)}\n{style.paragraph(CAUTION, loud=True)}")
    if out is not None:
        from frontcheck.outputs.pages.book_html import write_handbook

        guarded(lambda: write_handbook(out))
        click.echo(f"Written: {escaped(out)}\n{CAUTION}")


def _shown(name: str) -> None:
    from frontcheck.outputs.pages.book_pages import page
    from frontcheck.outputs.pages.book_terminal import page_said

    show(lambda style: page_said(page(name), style))
