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
from frontcheck.findings.abbreviations import in_words
from frontcheck.lines.statuses import STATUS_NAMES, STATUS_WORDS
from frontcheck.rules.ruleset import rule_set

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from frontcheck.findings.finding_rules import FindingRule
    from frontcheck.rules.constant import Constant

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
        "column": "Words of tables, figures and documents",
        "model": "Models and studies",
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
_ADDED: Final = re.compile(
    r"[abxyz]|mm2?|m2|deg|ms|g|kn|u|sd|status|changed|bridged|from|to|min|max|low|high|wad|largest|"
    r"left|right|closing|back|up|height|width|setback|radius|depth|angle|length|crown|gap|\d+|"
    r"median|reason|man|woman|six|year|old|p\d+"
)
"""What columns add to a word: axis, unit, which of two fronts, distance, measure, person."""
_UNIT: Final = re.compile(r"(?<=\d) (?=(?:mm|deg|kg|km/h|%)(?!\w))")
_OUR_WORD: Final = "own choice: our word for it, no text gives one"
_MOST_NEAR: Final = 3


@dataclass(frozen=True)
class Explanation:
    """What one word means, and how that is known."""

    word: str  # As it is listed
    kind: str  # One of `KINDS`
    title: str  # A few words
    paragraphs: tuple[str, ...]  # What it means; wrapped when shown
    drawing: tuple[str, ...] = ()  # Lines of a small drawing in text
    numbers: tuple[str, ...] = ()  # Lines of numbers, set already

    def __str__(self) -> str:
        """Return all of it, the caution last."""
        shown = in_words("\n\n".join([self.head, *self.paragraphs])).split("\n\n")
        shown = [_wrapped(each) for each in [*shown, CAUTION]]
        if self.drawing:
            shown.insert(2, "\n".join(self.drawing))
        if self.numbers:
            shown.insert(-1, "\n".join(self.numbers))
        return "\n\n".join(shown)

    @property
    def head(self) -> str:
        """The word and what it is, in one line."""
        return f"{self.word}: {self.title}{'.' if self.kind == 'status' else ''}"


def explanations() -> Mapping[str, Explanation]:
    """Return what can be explained, kind by kind, by the word as it is listed."""
    from frontcheck.findings.finding_rules import RULES

    made = [_of_words(kind, word) for kind, words in _tree().items() for word in words]
    made += [_of_rule(rule) for rule in RULES.values()]
    return MappingProxyType({each.word: each for each in made})


def explain(word: str) -> str:
    """Return what a word of the program means, and how that is known, as text.

    Words are those of lines, places, tools, statuses, themes, evidence and people, finding codes,
    constants of the rules, and whatever else screens, tables, figures and documents show. Numbers
    are those of the default rule set.

    Parameters
    ----------
    word : str
        The word, abbreviation, column, code or constant, in any case; ``-``, ``_`` and blanks are
        alike.

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
    asked, known = _plain(word), asked_for()
    for each in _shorter(asked):
        if each in known:
            return str(_of_words(*known[each]))
    constants = {_plain(constant.name): constant for constant in rule_set()}
    if asked in constants:
        return str(_of_constant(constants[asked]))
    from frontcheck.findings.finding_rules import RULES  # here: it needs numpy, words do not

    codes = {_plain(code): code for code in RULES}
    if asked in codes:
        return str(_of_rule(RULES[codes[asked]]))
    listed = codes | {each: listed for each, (_, listed) in known.items()}
    close = difflib.get_close_matches(asked[:60], listed, n=_MOST_NEAR)
    near = ", ".join(dict.fromkeys(listed[each] for each in close))
    advice = f"did you mean {near}?" if near else "look the word up there"
    raise refuse("findings.word", name=word[:60], advice=advice)


def _wrapped(text: str) -> str:
    """Lines of a paragraph; a number and its unit stay together."""
    held = _UNIT.sub("\0", text)
    return textwrap.fill(held, WIDTH, break_on_hyphens=False).replace("\0", " ")


@cache
def _tree() -> Mapping[str, Mapping[str, Mapping[str, Any]]]:
    return own_toml(__package__, "explanations.toml")


@cache
def asked_for() -> Mapping[str, tuple[str, str]]:
    """Return kind and word by every way to ask for it; a word comes before ways to ask."""
    tree = _tree()
    known: dict[str, tuple[str, str]] = {}
    for kind, words in tree.items():
        for word, held in words.items():
            names = (STATUS_NAMES[word],) if kind == "status" else ()
            known |= {_plain(other): (kind, word) for other in (*held.get("also", ()), *names)}
    own = {_plain(word): (kind, word) for kind, words in tree.items() for word in words}
    return MappingProxyType(known | own)


def _plain(word: str) -> str:
    return " ".join(re.split(r"[\s_-]+", word.strip().casefold())).strip()


def _shorter(asked: str) -> Iterator[str]:
    """Ways to read a word: as it is, then without what columns add, such as y0_ and _z_mm."""
    asked = re.sub(r"^y\d+ (?=.)", "", asked)
    yield asked
    asked = re.sub(r"^p\d+$", "p5", asked)
    while asked:
        yield asked
        yield asked.removesuffix("s")
        asked, _, last = asked.rpartition(" ")
        if not _ADDED.fullmatch(last):
            return


def _of_words(kind: str, word: str) -> Explanation:
    """Make one explanation of what the file holds."""
    held = _tree()[kind][word]
    title = held.get("title", "")
    if kind == "status":
        title = STATUS_WORDS[word].removeprefix(f"{STATUS_NAMES[word]}: ")
    texts: list[str] = []
    sources: tuple[str, ...] = ()
    for paragraph in held.get("text", "").split("\n\n"):
        text, cited = _filled(paragraph)
        texts.append(text)
        sources += cited
    if "source" in held:
        given = " ".join(held["source"].split())
        own = given.startswith(held["provenance"])
        sources = (given if own else f"{given} ({held['provenance']})", *sources)
    paragraphs = [text for text in texts if text]
    if kind == "theme":
        from frontcheck.findings.finding_rules import RULES

        codes = [rule.code for rule in RULES.values() if rule.theme == word]
        paragraphs.append(f"Findings: {', '.join(codes)}.")
    if "study" in held:
        paragraphs.append(_of_study(studies()[held["study"]]))
    paragraphs.append(f"Source: {'; '.join(dict.fromkeys(sources or (_OUR_WORD,)))}.")
    drawing = tuple(held.get("drawing", "").strip("\n").splitlines())
    numbers: tuple[str, ...] = ()
    if held.get("numbers"):
        from frontcheck.body.assumptions import rows

        numbers = rows(WIDTH)
    return Explanation(word, kind, title, tuple(paragraphs), drawing, numbers)


def studies() -> Mapping[str, Any]:
    """Return published population results with their conditions; no finding rests on them."""
    return own_toml(__package__, "studies.toml")


def _filled(text: str) -> tuple[str, tuple[str, ...]]:
    """Text with the constants of the default rule set put in, and where they come from."""
    rules, sources = rule_set(), []
    for name in _CONSTANT.findall(text):
        sources.append(_cited(rules[name]))
    filled = _CONSTANT.sub(lambda found: rules[found[1]].plain, text)
    return " ".join(filled.split()), tuple(sources)


def _of_constant(constant: Constant) -> Explanation:
    """Make the explanation of a number of the default rule set."""
    note = f"{constant.note[:1].upper()}{constant.note[1:]}".strip().removesuffix(".")
    said = (f"{note}.",) if note else ()
    paragraphs = (*said, f"Source: {_cited(constant)}.")
    return Explanation(constant.name, "known", constant.plain, paragraphs)


def _cited(constant: Constant) -> str:
    """Where a constant stands, and how that is known."""
    place = (
        f"{constant.document}, {constant.paragraph}" if constant.paragraph else constant.document
    )
    return f"{place} ({constant.provenance})"


def _of_study(study: Mapping[str, Any]) -> str:
    """A population result with its conditions; it stands here and nowhere else."""
    source = " ".join(study["source"].split())
    risks = study["fatality_risk_higher_percent"].items()
    return (
        f"A published population result, {source} ({study['provenance']}): fatality risk "
        f"of struck pedestrians higher by {', '.join(f'{p:g} % ({c})' for c, p in risks)}. "
        f"Leading edge up to {study['low_up_to_mm']:g} mm low, up to {study['medium_up_to_mm']:g} "
        f"mm medium, above it tall; face above {study['blunt_above_deg']:g} deg blunt, otherwise "
        f"sloped; bonnet up to {study['flat_up_to_deg']:g} deg flat. "
        f"Conditions: {' '.join(study['conditions'].split())} No finding rests on it."
    )


def _of_rule(rule: FindingRule) -> Explanation:
    """Make the explanation of a finding code from its rule."""
    evidence = _tree()["evidence"][rule.evidence]["title"]
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
