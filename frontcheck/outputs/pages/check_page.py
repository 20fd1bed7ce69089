"""The page of checks: on one offline page, on paper, and in short on a terminal."""

from __future__ import annotations

import base64
import hashlib
import re
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, get_args

from frontcheck.caution import CAUTION, CAUTION_SHORT, LEG_CAUTION
from frontcheck.outputs.annex.annex_text import breakable, clean
from frontcheck.outputs.documents.folder import write_folder
from frontcheck.outputs.documents.typst_pdf import require_typst, typst_pdf
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.pages.check_records import Kind, packaged_records, records_in

if TYPE_CHECKING:
    import os
    from pathlib import Path

    from frontcheck.outputs.pages.check_records import (
        CheckEntry,
        ChecksDocument,
        SourceEntry,
        WorstEntry,
    )
    from frontcheck.outputs.text.terminal import Style

PAGE: Final = "checks.html"
PAPER: Final = "checks.pdf"

NOT_COMPARED: Final = (
    "Accredited test results compared: 0.",
    "Real vehicles compared: 0. The fronts are two invented proposals and shapes made for a check.",
    "The motion model is consistent with the published cases below, and no more: no proof of it.",
    LEG_CAUTION,
    "Reading of a photo and of a scan: tried on generated data only.",
)
"""What stands first on the page."""
CHECKED: Final = (
    "What follows says that the program computes what its definitions say, and how far off it was "
    "at worst. It does not say that a vehicle treats people so."
)
KINDS: Final[dict[str, str]] = {
    "closed form": "against a formula that is exact for a shape made for it",
    "independent method": "against a second program written from the same definitions, "
    "or another library",
    "published value": "against what a source prints; of the motion model, consistent with it only",
    "population plausibility": "against bounds of what people are like",
}
"""What each kind of check is held against."""
KNOWN: Final = {"read": "text read", "memory": "from memory", "derived": "derived"}
NONE: Final = "-"
SUMMARY: Final = ("kind", "checks", "cases", "hold", "fail", "not run", "worst share of tolerance")
HEADER: Final = (
    "what is compared", "held against", "its value", "ours", "difference",
    "tolerance, and why", "cases", "",
)  # fmt: skip
_MM_PER_PT: Final = 25.4 / 72.0
_ROOM: Final = 24.0 / (7.0 * _MM_PER_PT)
"""Room on a line of the narrowest column with words [em]."""


def write_checks(
    folder: str | os.PathLike[str], records: str | os.PathLike[str] | None = None
) -> Path:
    """Write the page of checks: checks.html, one file that works offline, and checks.pdf.

    It says what the calculation was checked against and how far off it was at worst. Nothing was
    compared with an experiment or a real vehicle, which stands first.

    Parameters
    ----------
    folder : str or os.PathLike
        The folder, new or made by frontcheck.
    records : str or os.PathLike, optional
        Folder with the records of a run of the tests; without it those that come with frontcheck.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    InputError
        If there are no records, or not those of one run.
    OutputError
        If it cannot be written; nothing is lost then.

    Examples
    --------
    >>> import frontcheck as fc
    >>> sorted(file.name for file in fc.write_checks("checks").glob("checks.*"))
    ['checks.html', 'checks.pdf']
    """
    from pathlib import Path

    write_folder(Path(folder), page_files(taken(records)))
    return Path(folder)


def taken(records: str | os.PathLike[str] | None) -> ChecksDocument:
    """Return the records of a folder, or without one those that come with this version."""
    from pathlib import Path

    return packaged_records() if records is None else records_in(Path(records))


def page_files(document: ChecksDocument) -> dict[str, bytes]:
    """Return the page and the paper; the same records always give the same bytes."""
    require_typst()
    content = page_content(document)
    return {PAGE: page_bytes(content), PAPER: paper_bytes(content)}


def page_content(document: ChecksDocument) -> dict[str, Any]:
    """Return all that the page says, as text."""
    versions = document.versions
    sources: list[str] = []
    groups = []
    for kind, about in KINDS.items():
        own = [check for check in document.checks if check.kind == kind]
        rows = [
            _row(check, sources) for check in sorted(own, key=lambda each: (each.file, each.id))
        ]
        groups.append({"kind": kind, "about": f"{kind.capitalize()}: {about}", "rows": rows})
    return {
        "title": f"What frontcheck {versions.get('frontcheck', '')} was checked against".strip(),
        "made": "Recorded by a run of the tests with "
        + ", ".join(f"{name} {version}" for name, version in sorted(versions.items())) + ".",
        "not_compared": list(NOT_COMPARED),
        "checked": CHECKED,
        "verdict": verdict(document),
        "good": document.good,
        "failed_tests": [clean(test) for test in document.failed_tests],
        "summary": [list(SUMMARY), *summary_rows(document)],
        "header": list(HEADER),
        "groups": [group for group in groups if group["rows"]],
        "sources": sources,
        "caution": CAUTION,
        "caution_short": CAUTION_SHORT,
    }  # fmt: skip


def verdict(document: ChecksDocument) -> str:
    """Say in a sentence how the checks ended."""
    states = [check.state for check in document.checks]
    cases = sum(check.cases for check in document.checks)
    if document.good:
        return f"All {len(states)} checks hold in all {cases} cases."
    parts = [f"{states.count('holds')} of {len(states)} checks hold"]
    parts += [f"{n} FAIL" for n in (states.count("fails"),) if n]
    parts += [f"{n} NOT RUN" for n in (states.count("not run"),) if n]
    parts += [f"{len(t)} tests of their files FAILED" for t in (document.failed_tests,) if t]
    return f"{'; '.join(parts)}."


def summary_rows(document: ChecksDocument) -> list[list[str]]:
    """Return the counts of each kind, and of all."""
    rows = []
    for kind in (*get_args(Kind), ""):
        own = [check for check in document.checks if kind in ("", check.kind)]
        states = [check.state for check in own]
        worst = [check.worst for check in own if check.worst and check.worst.tolerance]
        shares = [each.share for each in worst if each.share is not None]
        rows.append([
            kind or "all", str(len(own)), str(sum(check.cases for check in own)),
            *(str(states.count(state)) for state in ("holds", "fails", "not run")),
            percent(max(shares)) if shares else NONE,
        ])  # fmt: skip
    return [row for row in rows if row[1] != "0" or row[0] == "all"]


def checks_text(style: Style, document: ChecksDocument) -> str:
    """Return the summary as text, with every check that does not hold."""
    versions = ", ".join(f"{name} {each}" for name, each in sorted(document.versions.items()))
    off = [
        [check.id, check.state, check.quantity]
        for check in document.checks if check.state != "holds"
    ]  # fmt: skip

    def said(text: str, *, loud: bool = False) -> str:
        return style.fitted(style.paragraph(text, loud=loud))

    parts = [
        said("Compared with experiment: none.", loud=True),
        *(said(text) for text in NOT_COMPARED),
        style.table(f"Calculation checked, with {versions}", SUMMARY, summary_rows(document)),
        said(verdict(document), loud=not document.good),
        *([style.table("Not held", ["check", "state", "what is compared"], off)] if off else []),
        *(said(f"Failed: {clean(test)}") for test in document.failed_tests),
        said(CAUTION, loud=True),
    ]
    return "\n".join(parts)


# A check in words.


def _row(check: CheckEntry, sources: list[str]) -> dict[str, str]:
    source = source_text(check.source)
    if source not in sources:
        sources.append(source)
    unit = f" [{check.unit}]" if check.unit else ""
    worst = check.worst
    said = {"expected": NONE, "ours": NONE, "difference": NONE, "tolerance": "", "case": ""}
    if worst is not None:
        said = _worst(worst)
    state = f"FAILS in {check.failing}" if check.failing else check.state.replace("not", "NOT")
    row = {
        "id": check.id,
        "quantity": f"{check.quantity}{unit}",
        "source": source,
        "number": str(sources.index(source) + 1),
        "where": check.source.where,
        "known": KNOWN[check.source.known],
        "why": check.why,
        "file": check.file,
        "cases": str(check.cases),
        "state": state.replace("run", "RUN"),
        "good": "yes" if check.state == "holds" else "",
        **said,
    }
    return {name: clean(text) for name, text in row.items()}


def source_text(source: SourceEntry) -> str:
    """Return author, title and year; what is not stated is left out."""
    title = f"{source.author}: {source.title}" if source.author else source.title
    return clean(f"{title}, {source.year}" if source.year else title)


def _worst(worst: WorstEntry) -> dict[str, str]:
    said = {
        "expected": value(worst.expected), "ours": value(worst.ours), "difference": "equal",
        "tolerance": "", "case": worst.case,
    }  # fmt: skip
    if worst.low is not None or worst.high is not None:
        said["expected"] = _range(worst.low, worst.high)
        room = worst.margin
        if room is not None:
            off = f"{value(abs(room))} {'to spare' if room >= 0.0 else 'outside'}"
        said["difference"] = NONE if room is None else off
    elif worst.tolerance is not None:
        said["difference"] = _difference(worst)
        said["tolerance"] = value(worst.tolerance)
    elif not worst.held:
        said["difference"] = "not equal"
    return said


def _difference(worst: WorstEntry) -> str:
    if worst.difference is None:
        return NONE
    if worst.difference == 0.0:
        least = (worst.tolerance or 0.0) / 1000.0
        return f"< {value(least)}" if least else "0"
    share = (
        ""
        if worst.share is None
        else f" ({percent(worst.share)})".replace(" %", "\N{NO-BREAK SPACE}%")
    )
    return f"{value(worst.difference)}{share}"


def _range(low: float | None, high: float | None) -> str:
    if high is None:
        return f"at least {value(low)}"
    return f"at most {value(high)}" if low is None else f"{value(low)} to {value(high)}"


def value(number: float | str | None) -> str:
    """Return a number as short as it can be, a word as it is."""
    if number is None:
        return NONE
    if isinstance(number, str):
        return clean(number)
    return re.sub(r"e([+-])0*(\d)", lambda m: f"e{m[1].strip('+')}{m[2]}", f"{number:.6g}")


def percent(share: float) -> str:
    """Return a share of a tolerance."""
    return "< 0.1 %" if share == 0.0 else f"{value(float(f'{100.0 * share:.2g}'))} %"


# The page and the paper.


def page_bytes(content: dict[str, Any]) -> bytes:
    """Return the page: it loads nothing and runs nothing."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    style = _own("checks.css")
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    made = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    page = made.from_string(_own("checks.html"))
    return page.render(content, style=Markup(style), policy=policy).encode()


def paper_bytes(content: dict[str, Any]) -> bytes:
    """Return the same on paper, A4 landscape."""
    colours = {"ink": look.INK, "muted": look.MUTED, "face": look.FACE}
    kept = _breakable(content) | {"fonts": [look.FONT], "look": colours}
    # Without tags a third as large; a reading voice has the page.
    return typst_pdf("frontcheck.outputs.pages", "checks", kept, tagged=False)


def _breakable(content: dict[str, Any]) -> dict[str, Any]:
    """Let long words of rows be broken."""
    groups = [
        group | {"rows": [
            {name: breakable(text, _ROOM) for name, text in row.items()} for row in group["rows"]
        ]}
        for group in content["groups"]
    ]  # fmt: skip
    return content | {"groups": groups}


def _own(name: str) -> str:
    return files("frontcheck.outputs.pages").joinpath(f"templates/{name}").read_text("utf-8")
