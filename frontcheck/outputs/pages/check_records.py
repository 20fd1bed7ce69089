"""Records of checks, as runs of the tests leave them: read, put together, kept in the package."""

from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Final, Literal

import msgspec
from msgspec import Meta

from frontcheck.errors import refuse
from frontcheck.serializer import Entry, read_document

Kind = Literal["closed form", "independent method", "published value", "population plausibility"]
Known = Literal["read", "memory", "derived"]
State = Literal["holds", "fails", "not run"]
Count = Annotated[int, Meta(ge=0)]

PACKAGED: Final = "records.json"
"""Records of the run that this version was checked by."""


class SourceEntry(Entry):
    """Where the other value of a check comes from; what is not stated is empty."""

    title: str
    known: Known
    author: str = ""
    year: str = ""
    where: str = ""


class WorstEntry(Entry):
    """The case of a check that comes nearest to failing, or fails most; numbers rounded."""

    case: str
    held: bool
    ours: float | str | None = None
    expected: float | str | None = None
    low: float | None = None
    high: float | None = None
    difference: float | None = None
    tolerance: float | None = None
    share: float | None = None
    margin: float | None = None

    @property
    def rank(self) -> tuple[Any, ...]:
        """Failing first, then the largest share, then the least room, then by name."""
        most = -1.0 if self.held else float("inf")
        room = float("-inf") if self.margin is None else -self.margin
        return (self.held, -(most if self.share is None else self.share), -room, self.case)


class CheckEntry(Entry):
    """One check over all its cases."""

    id: str
    kind: Kind
    quantity: str
    unit: str
    source: SourceEntry
    why: str
    file: str
    cases: Count
    failing: Count
    worst: WorstEntry | None

    @property
    def state(self) -> State:
        """Whether it holds; one without a case was not run."""
        return "fails" if self.failing else "holds" if self.cases else "not run"

    @property
    def declared(self) -> tuple[Any, ...]:
        """What is said of it before any case, the same in every process of a run."""
        return (self.kind, self.quantity, self.unit, self.source, self.why, self.file)


class ChecksDocument(Entry, tag_field="schema", tag="frontcheck.checks/1", omit_defaults=False):
    """Checks of a run, and tests that failed in the files that hold them."""

    versions: dict[str, str]
    failed_tests: list[str]
    checks: list[CheckEntry]

    @property
    def good(self) -> bool:
        """Whether all were run and hold, and no test failed."""
        held = all(check.state == "holds" for check in self.checks)
        return held and bool(self.checks) and not self.failed_tests


def packaged_records() -> ChecksDocument:
    """Return the records that come with this version."""
    return read_document(ChecksDocument, str(files("frontcheck.outputs.pages") / PACKAGED))


def records_in(folder: Path) -> ChecksDocument:
    """Return the records that the processes of one run left in a folder, put together."""
    found = sorted(folder.glob("*.json")) if folder.is_dir() else []
    if not found:
        raise refuse("checks.none", str(folder))
    parts = [read_document(ChecksDocument, path) for path in found]
    merged: dict[str, CheckEntry] = {}
    for path, part in zip(found, parts, strict=True):
        if part.versions != parts[0].versions:
            raise refuse("checks.mixed", path.name, what="other versions")
        for check in part.checks:
            before = merged.get(check.id)
            if before is not None and before.declared != check.declared:
                raise refuse("checks.mixed", path.name, what=f"another check {check.id}")
            merged[check.id] = check if before is None else _together(before, check)
    failed = sorted({test for part in parts for test in part.failed_tests})
    return ChecksDocument(parts[0].versions, failed, [merged[name] for name in sorted(merged)])


def record_bytes(document: ChecksDocument) -> bytes:
    """Return records as they are kept: the same checks always give the same bytes."""
    return msgspec.json.format(msgspec.json.encode(document), indent=1) + b"\n"


def _together(a: CheckEntry, b: CheckEntry) -> CheckEntry:
    worst = [each.worst for each in (a, b) if each.worst is not None]
    return msgspec.structs.replace(
        a,
        cases=a.cases + b.cases,
        failing=a.failing + b.failing,
        worst=min(worst, key=lambda each: each.rank, default=None),
    )
