"""The commands that look things up: ``rules`` and ``explain``."""

from __future__ import annotations

import click

from frontcheck.cli.common import guarded, show


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
    """Say what a word means, with its source: a line, tool, status, theme, finding code and more.

    \b
    Examples:
      frontcheck explain
      frontcheck explain UBRL   # upper bumper reference line
      frontcheck explain balance point
      frontcheck explain LEG-UNDERCUT
    """
    from frontcheck.findings.explanations import KINDS, explanations
    from frontcheck.findings.explanations import explain as explanation

    if words:
        click.echo(guarded(lambda: explanation(" ".join(words))))
    else:
        show(lambda style: style.explainable(KINDS, tuple(explanations().values())))
