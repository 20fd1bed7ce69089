"""What every word of the program means: lines, places, tools, statuses, themes, finding codes."""

from __future__ import annotations

import difflib
import re
import textwrap
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.errors import refuse
from frontcheck.files import own_toml
from frontcheck.findings.finding_rules import RULES, studies
from frontcheck.lines.statuses import STATUS_NAMES, STATUS_WORDS
from frontcheck.rules.ruleset import rule_set
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frontcheck.findings.finding_rules import FindingRule

WIDTH: Final = 88
"""Columns of an explanation at most."""
KINDS: Final = MappingProxyType(
    {
        "line": "Lines and distances",
        "place": "Places and areas",
        "tool": "Tools",
        "status": "Statuses of lines, places and areas",
        "theme": "Themes of findings",
        "evidence": "Evidence of a finding, strongest first",
        "person": "People",
        "shape": "Shape of the front",
        "known": "How well something is known, and numbers",
        "finding": "Finding codes",
    }
)
"""Every kind of word that is explained, with its heading."""
_TOPICS: Final = MappingProxyType(
    {
        "leg": "how the front meets an upright leg",
        "body": "where the leading edge meets the body",
        "head": "what a headform meets",
        "gap": "what no test of the rule set covers, or could not be assessed",
        "measurement": "whether what was measured agrees with itself",
    }
)
_COMPARISONS: Final = MappingProxyType(
    {
        "<": "the value is less than the threshold",
        "<=": "the value is not more than the threshold",
        ">": "the value is more than the threshold",
        ">=": "the value is not less than the threshold",
        "within": "the value lies within the two thresholds",
        "outside": "the value lies outside the two thresholds",
        "is": "a plain statement, nothing is compared",
    }
)
_CONSTANT: Final = re.compile(r"\{(\w+\.\w+)\}")
_MOST_NEAR: Final = 3


@one_line
@dataclass(frozen=True)
class Explanation:
    """What one word means, and how that is known."""

    word: str  # As it is listed
    kind: str  # One of `KINDS`
    title: str  # A few words
    paragraphs: tuple[str, ...]  # What it means; wrapped when shown
    drawing: tuple[str, ...] = ()  # Lines of a small drawing in text
    also: tuple[str, ...] = ()  # Other ways to ask for it

    def __str__(self) -> str:
        """Return all of it, the caution last."""
        blocks = [self.head, *self.paragraphs, CAUTION]
        shown = [textwrap.fill(block, WIDTH, break_on_hyphens=False) for block in blocks]
        if self.drawing:
            shown.insert(2, "\n".join(self.drawing))
        return "\n\n".join(shown)

    @property
    def head(self) -> str:
        """The word and what it is, in one line."""
        return f"{self.word}: {self.title}{'.' if self.kind == 'status' else ''}"


@cache
def explanations() -> Mapping[str, Explanation]:
    """Return what can be explained, kind by kind, by the word as it is listed."""
    tree = own_toml(__package__, "explanations.toml")
    made = [_of_words(kind, word, held) for kind in tree for word, held in tree[kind].items()]
    made += [_of_rule(rule, tree["evidence"][rule.evidence]["title"]) for rule in RULES.values()]
    return MappingProxyType({each.word: each for each in made})


def explain(word: str) -> str:
    """Return what a word of the program means, and how that is known, as text.

    Words are those of lines, places, tools, statuses, themes, evidence and people, finding codes,
    and whatever else stands on the first screen of a screening. Numbers are those of the default
    rule set.

    Parameters
    ----------
    word : str
        The word, abbreviation or code, in any case; ``-``, ``_`` and blanks are alike.

    Returns
    -------
    str
        Paragraphs of at most 88 characters a line, of lines and tools with a small drawing.

    Raises
    ------
    InputError
        If there is no such word.

    Examples
    --------
    >>> import frontcheck as fc
    >>> print(fc.explain("LEG-UNDERCUT").splitlines()[0])
    LEG-UNDERCUT: lower lip behind the bumper
    >>> print(fc.explain("balance point").splitlines()[0])
    balance point: centre of mass of a standing person
    """
    asked, known = _plain(word), _asked_for()
    if asked in known:
        return str(known[asked])
    close = difflib.get_close_matches(asked[:60], known, n=_MOST_NEAR)
    near = ", ".join(dict.fromkeys(known[each].word for each in close))
    advice = f"did you mean {near}?" if near else "look the word up there"
    raise refuse("findings.word", name=word[:60], advice=advice)


@cache
def _asked_for() -> dict[str, Explanation]:
    """Every way to ask, plain; a word itself comes before another way to ask for another."""
    known: dict[str, Explanation] = {}
    for each in explanations().values():
        known |= {_plain(other): each for other in each.also}
    return known | {_plain(word): each for word, each in explanations().items()}


def _plain(word: str) -> str:
    return " ".join(re.split(r"[\s_-]+", word.strip().casefold())).strip()


def _of_words(kind: str, word: str, held: Mapping[str, Any]) -> Explanation:
    """Make one explanation of what the file holds."""
    title, also = held.get("title", ""), held.get("also", ())
    if kind == "status":
        title = STATUS_WORDS[word].removeprefix(f"{STATUS_NAMES[word]}: ")
        also = (STATUS_NAMES[word],)
    text, sources = _filled(held.get("text", ""))
    if "source" in held:
        given = " ".join(held["source"].split())
        own = given.startswith(held["provenance"])
        sources = (given if own else f"{given} ({held['provenance']})", *sources)
    paragraphs = [text] if text else []
    if kind == "theme":
        codes = [rule.code for rule in RULES.values() if rule.theme == word]
        paragraphs.append(f"Findings: {', '.join(codes)}.")
    if "study" in held:
        paragraphs.append(_of_study(studies()[held["study"]]))
    paragraphs.append(f"Source: {'; '.join(dict.fromkeys(sources))}.")
    drawing = tuple(held.get("drawing", "").strip("\n").splitlines())
    return Explanation(word, kind, title, tuple(paragraphs), drawing, tuple(also))


def _filled(text: str) -> tuple[str, tuple[str, ...]]:
    """Text with the constants of the default rule set put in, and where they come from."""
    rules, sources = rule_set(), []
    for name in _CONSTANT.findall(text):
        one = rules[name]
        place = f"{one.document}, {one.paragraph}" if one.paragraph else one.document
        sources.append(f"{place} ({one.provenance})")
    filled = _CONSTANT.sub(lambda found: rules[found[1]].plain, text)
    return " ".join(filled.split()), tuple(sources)


def _of_study(study: Mapping[str, Any]) -> str:
    """A population result with its conditions; it stands here and nowhere else."""
    risks = study["fatality_risk_higher_percent"].items()
    return (
        f"A published population result, {study['source']} ({study['provenance']}): fatality risk "
        f"of struck pedestrians higher by {', '.join(f'{p:g} % ({c})' for c, p in risks)}. "
        f"Leading edge up to {study['low_up_to_mm']:g} mm low, up to {study['medium_up_to_mm']:g} "
        f"mm medium, above it tall; face above {study['blunt_above_deg']:g} deg blunt, otherwise "
        f"sloped; bonnet up to {study['flat_up_to_deg']:g} deg flat. "
        f"Conditions: {' '.join(study['conditions'].split())} No finding rests on it."
    )


def _of_rule(rule: FindingRule, evidence: str) -> Explanation:
    """Make the explanation of a finding code from its rule."""
    paragraphs = (
        f"Concerns {_TOPICS[rule.topic]}.",
        f"Meaning: {rule.meaning}",
        f"Found when: {_COMPARISONS[rule.comparison]}{_threshold(rule)}.",
        f"Source: {rule.source}.",
        f"How that is known: {rule.provenance}.",
        f"Evidence: {rule.evidence}: {evidence}.",
        f"Limits: {rule.limits}",
    )
    return Explanation(rule.code, "finding", rule.title, paragraphs)


def _threshold(rule: FindingRule) -> str:
    if rule.comparison == "is":
        return ""
    unit = f" {rule.unit}" if rule.unit else ""
    if rule.threshold is None:
        return f", in{unit}; the threshold depends on the case and stands with every finding"
    if isinstance(rule.threshold, tuple):
        low, high = rule.threshold
        return f": {low:g} to {high:g}{unit}"
    return f", {rule.threshold:g}{unit}"
