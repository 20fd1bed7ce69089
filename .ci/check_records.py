"""Records of checks: check_records.py keep FOLDER, or compare FOLDER.

FOLDER is what FRONTCHECK_CHECKS named in a run of the tests. `keep` puts its records into the
package, `compare` says where they are not those of the package. To make them anew:

    FRONTCHECK_CHECKS=/tmp/records .venv/bin/pytest
    .venv/bin/python .ci/check_records.py keep /tmp/records && .ci/reports
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from frontcheck.outputs.pages.check_records import (
    PACKAGED,
    ChecksDocument,
    record_bytes,
    records_in,
)
from frontcheck.serializer import read_document

if TYPE_CHECKING:
    from collections.abc import Iterator

KEPT = Path(__file__).resolve().parents[1] / "frontcheck" / "outputs" / "pages" / PACKAGED
ROOM = 0.2
"""By how much the share of a tolerance that is used may change: own choice. Libraries and
processors round otherwise, and what rests on many draws moves by parts of its scatter."""
MAGNIFIED = ("motion-", "head-", "run-")
"""Checks of people who are struck, by the start of their ids: contacts magnify the last digit of a
sine, so that of these no more is asked than to hold."""


def differences(kept: ChecksDocument, fresh: ChecksDocument) -> Iterator[str]:
    """Say where fresh records are not as those kept, check by check."""
    before, now = ({check.id: check for check in each.checks} for each in (kept, fresh))
    yield from (f"{name}: is not checked any more" for name in before.keys() - now.keys())
    yield from (f"{name}: is not in the records kept" for name in now.keys() - before.keys())
    yield from (f"{test}: failed" for test in fresh.failed_tests)
    for name, check in now.items():
        was = before.get(name)
        if check.state != "holds":
            yield f"{name}: {check.state}"
        if was is None:
            continue
        if check.declared != was.declared:
            yield f"{name}: is described in other words"
        if check.cases != was.cases:
            yield f"{name}: {check.cases} cases in place of {was.cases}"
        shares = [each.worst.share if each.worst else None for each in (was, check)]
        known = None not in shares and not name.startswith(MAGNIFIED)
        if known and abs(shares[1] - shares[0]) > ROOM:
            yield f"{name}: uses {shares[1]:g} of its tolerance in place of {shares[0]:g}"


def main(what: str, folder: str) -> int:
    """Keep or compare."""
    fresh = records_in(Path(folder))
    if what == "keep":
        KEPT.write_bytes(record_bytes(fresh))
        return 0
    found = sorted(differences(read_document(ChecksDocument, KEPT), fresh))
    for line in found:
        print(line)  # noqa: T201
    if found:
        print(__doc__.partition("To make them anew:")[2])  # noqa: T201
    return int(bool(found))


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] not in ("keep", "compare"):
        sys.exit(__doc__)
    sys.exit(main(*sys.argv[1:]))
