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
@click.argument("code", required=False)
def explain(code: str | None) -> None:
    """Say what a finding or a status means; of a finding, who published it and what it leaves open.

    \b
    Examples:
      frontcheck explain
      frontcheck explain LEG-UNDERCUT
      frontcheck explain open_end
    """
    from frontcheck.findings.catalogue import explain as explanation
    from frontcheck.findings.finding_rules import RULES

    if code is None:
        show(lambda style: style.finding_rules(tuple(RULES.values())))
    else:
        click.echo(guarded(lambda: explanation(code)).rstrip("\n"))
