"""The first screen of a screening: who meets what, what stands out, what to do next."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from frontcheck.body.person_motion import by_reason, too_few
from frontcheck.caution import CAUTION
from frontcheck.findings.people_rows import names_of, percent
from frontcheck.front.attitude import not_corrected
from frontcheck.lines.said import missing_said
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.body.motion import MotionStudy
    from frontcheck.body.person_motion import PersonMotion
    from frontcheck.findings.people_rows import PersonRow
    from frontcheck.front.front import Front
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.screening import Screening

WIDEST: Final = 100
"""Columns of the first screen at most."""
MOST_LINES: Final = 32
"""Own choice: what a window of usual height shows without scrolling."""
_GAP: Final = "   "
_MOST_MISSING: Final = 2
_SHORTEST: Final = 3

_NAMES: Final = STATUS_NAMES | {"wad_1000": "wrap-around point"}
"""Names of statuses; that of a point of the tape comes before WAD is spelt out."""
_KNEES: Final = {
    "below": "below the face",
    "in": "level with it",
    "above the face": "above the face",
}
_LEVEL: Final = {"in": "level", "in the band": "level", "above the face": "above"}
_BECOMES: Final = {"pushed": "pushed ahead", "folded": "folded over", "carried": "carried up"}
_EDGES: Final = {
    "above": "above: tends to push ahead",
    "in the band": "about level: either",
    "below": "below: tends to fold or carry up",
}


def first_screen(result: Screening, width: int = WIDEST) -> list[tuple[str, bool]]:
    """Return its lines, and which of them are headings."""
    width = min(width, WIDEST)
    # Shorter and shorter, until it fits.
    for short in range(_SHORTEST + 1):
        blocks = _blocks(result, width, short)
        count = sum(map(len, blocks))
        if count <= MOST_LINES:
            break
    # Air between the blocks as far as there is room for it, most of all round the people.
    room = MOST_LINES - count
    airy = [i for i in (1, 2, 7, 3, 5, 4, 6) if blocks[i]][: max(room, 0)]
    out: list[tuple[str, bool]] = []
    for i, block in enumerate(blocks):
        out += ([("", False)] if i in airy else []) + block
    return out


def _blocks(result: Screening, width: int, short: int) -> list[list[tuple[str, bool]]]:
    answer = result.answer
    steps = [_shortened(s.do, width - 2, "--json") if short else s.do for s in answer.next]
    return [
        _head(result, width, short),
        _people(result, width),
        _numbered(_title(result), _outstanding(result, short=bool(short)), width)
        + ([(line, False) for line in _claims(result, width)] if short else []),
        _said("What a shape cannot say", answer.cannot_say, width),
        _numbered(next_title("Next", result.front), steps, width),
        _lines(result, width, short),
        _rests_on(result, width, short),
        [(line, True) for line in textwrap.wrap(CAUTION, width)],
    ]


def next_title(words: str, front: Front) -> str:
    """A title above what to do next: what is proposed cannot be measured before it is made."""
    return f"{words}, on a car made so" if front.drawn else words


def _outstanding(result: Screening, *, short: bool) -> list[str]:
    nothing = "Nothing beyond what holds for nearly every front; --findings says what that is."
    return [
        line.text
        if short or line.holds_in_100 is None
        else f"{line.text}; holds in {line.holds_in_100} of 100 assumed cases"
        for line in result.answer.lines
    ] or [nothing]


def _claims(result: Screening, width: int) -> list[str]:
    """In how many cases the lines hold, in one row."""
    counts = [line.holds_in_100 for line in result.answer.lines]
    said = [f"{i} in {n}" for i, n in enumerate(counts, start=1) if n is not None]
    if not said:
        return []
    return _wrapped(f"  Of 100 assumed cases they hold in so many: {', '.join(said)}", width)


def _title(result: Screening) -> str:
    if any(line.holds_in_100 is not None for line in result.answer.lines):
        return (
            "What stands out (assumed cases: measured again, with other errors of the size stated)"
        )
    if result.front.row_u_mm is None or not result.answer.lines:
        return "What stands out"
    return "What stands out (how sure each line is, by the errors stated: --draws 200)"


def _wrapped(text: str, width: int, indent: str = "  ") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent)


def _head(result: Screening, width: int, short: int) -> list[tuple[str, bool]]:
    front = result.front
    ends = f"{front.stations[0]:g} to {front.stations[-1]:g} mm"
    stations = (
        f"one section, y = {front.stations[0]:g} mm"
        if len(front.stations) == 1
        else f"{len(front.stations)} stations, {ends}" + (" each side" if front.symmetric else "")
    )
    parts = [front.name, result.rules.id, stations]
    exact = _exact(front)
    room = width - len(_GAP.join([*parts, ""])) - len(exact) - 2
    how = textwrap.shorten(front.method, max(room, 12), placeholder=" ...") if front.method else ""
    measured = ", ".join(filter(None, [how, exact]))
    title = textwrap.shorten(_GAP.join(parts), width, placeholder=" ...")
    one = _GAP.join([*parts, measured])
    first = [one] if len(one) <= width else [title, f"  {measured}"[:width]]
    face = _face(result, width, short)
    return [(first[0], True), *((line, False) for line in [*first[1:], *face])]


def _exact(front: Front) -> str:
    u = front.row_u_mm
    proposed, points = front.proposed
    if proposed == points:
        return front.not_measured
    said = f"+/- {u:g} mm" if u is not None else "how exact is not stated"
    stated = "" if u is None and front.mesh is not None else said
    return "; the others ".join(filter(None, [front.not_measured, stated]))


def face_words(result: Screening) -> str:
    """Return the face at the centre in plain numbers; nothing where there is none."""
    face = centre(result).face
    if face is None:
        return ""
    said = [f"overhang {face.overhang_mm:.0f}{' or more' if face.not_seen else ''}"]
    if face.recess_depth_mm is None:
        said.append("recess not seen from the side" if face.not_seen else "no recess between lips")
    else:
        upper, lower = face.upper_lip_behind_mm, face.lower_lip_behind_mm
        more = " or more" if face.not_seen else ""
        said.append(f"recess {face.recess_depth_mm:.0f}{more} deep")
        said.append(f"upper lip {upper:.0f} and lower lip {lower:.0f} behind the foremost point")
    return ", ".join(said)


def _face(result: Screening, width: int, short: int) -> list[str]:
    said = face_words(result)
    if not said:
        return []
    text = f"Face at the {where(result)}, mm{_GAP}{said}"
    return [_shortened(text, width, "--json")] if short >= _SHORTEST else _wrapped(text, width)


def centre(result: Screening) -> Station:
    """Return the station at the centre plane, or the nearest to it."""
    return min(result.stations, key=lambda station: (abs(station.y), station.y))


def where(result: Screening) -> str:
    """Return which station that is."""
    y = centre(result).y
    return "centre" if y == 0.0 else f"station y = {y:g} mm"


def _people(result: Screening, width: int) -> list[tuple[str, bool]]:
    rows = result.answer.people
    edges = [row.edge_mm for row in rows if row.edge_mm is not None]
    edge = f"{edges[0]:.0f}" if edges else ""
    if result.motion is None:
        table = [
            [
                f"Who meets what ({where(result)})", "leg met first", "knee to face",
                f"bonnet edge{f' ({edge})' if edge else ''} to balance point",
            ],
            *([f"  {row.person}", touch(row), knee(row), edge_words(row)] for row in rows),
        ]  # fmt: skip
    else:
        table = [
            [
                "Who meets what", "leg met first", "knee to face", f"edge {edge}".rstrip(),
                f"of {result.motion.draws} cases", "head at, mm, most on",
            ],
            *([*_short(row), *_motion(row)] for row in rows),
        ]  # fmt: skip
    wide = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    if result.motion is not None and sum(wide) + 2 * (len(wide) - 1) > width:
        for row in table[1:]:  # pushed, folded, carried alone: a part of the front is not cut off
            row[4] = row[4].replace(" ahead", "").replace(" over", "").replace(" up", "")
        wide[4] = max(len(row[4]) for row in table)
    lines = [
        "  ".join(cell.ljust(w) for cell, w in zip(row, wide, strict=True)).rstrip()[:width]
        for row in table
    ]
    told = [line for row in rows if row.given for line in _wrapped(f"  {given(row)}", width)]
    return [(line, i == 0) for i, line in enumerate(lines)] + [
        (line, False) for line in (*told, *_struck(result, width))
    ]


def _short(row: PersonRow) -> list[str]:
    """The columns that heights alone give, in few words."""
    first = (
        "not met"
        if row.first_touch_mm is None
        else f"{row.first_touch} {row.first_touch_mm:.0f} up"
    )
    face = "-" if row.knee is None else _LEVEL.get(row.knee, row.knee)
    against = row.edge_against_centre_of_mass
    edge = "-" if against is None else _LEVEL.get(against, against)
    return [f"  {row.person.partition(' (')[0]}", first, face, edge]


def _motion(row: PersonRow) -> list[str]:
    """What becomes of a person, and where the head lands."""
    motion = row.motion
    if motion is None:
        return ["not said", "-"]
    share, kind = max((motion.shares[key], words) for key, words in _BECOMES.items())
    sure = "" if motion.kind != "undecided" else "?"
    return [f"{percent(share)} {kind}{sure}", _head_place(motion)]


def _head_place(motion: PersonMotion) -> str:
    """Where the head lands, or why no place is given."""
    wad, part = motion.wad_mm, motion.part or ""
    if wad is not None:
        return f"{wad.p5:.0f} to {wad.p95:.0f} {part}"
    never, beyond = (motion.shares[key] for key in ("no_head_contact", "beyond_measured"))
    if not too_few(motion.shares):
        return "not given"
    if never and beyond:
        return f"no place in {percent(never + beyond)}"
    return f"unmeasured {percent(beyond)}" if beyond else f"no touch {percent(never)}"


def _withheld(motion: MotionStudy) -> Iterator[str]:
    """Why no place of a head is given: each reason once, with whom it concerns."""
    withheld = [one for one in motion.people if one.wad_mm is None]
    if any(too_few(one.shares) for one in withheld):
        yield (
            "No touch, unmeasured, no place: of the cases, heads that touch nothing within 0.35 s, "
            "or land beyond what was measured."
        )
    other = by_reason(one for one in withheld if not too_few(one.shares))
    for reason, who in other.items():
        yield f"Not given for {names_of(who)}: {reason}."


def _struck(result: Screening, width: int) -> list[str]:
    """How the motion of people is to be read."""
    motion = result.motion
    if motion is None:
        return []
    edge = "Edge: bonnet edge against balance point, standing."
    refused = [one.reason for one in motion.people if one.refused]
    if refused:  # of the station, so of everybody
        return _wrapped(f"  {edge} Nothing is said of people struck: {refused[0]}.", width)
    unsure = any(row.motion and row.motion.kind == "undecided" for row in result.answer.people)
    speed, mark = f"{motion.speed_km_h:g} km/h", "; ?: undecided" if unsure else ""
    return _wrapped(
        f"  {edge} Struck at the {where(result)}, {speed}{mark}. Cases, not chances. None is "
        "better: pushed may be run over, carried up may strike the windscreen. "
        + " ".join(_withheld(motion)),
        width,
    )


def touch(row: PersonRow) -> str:
    """Return where a leg is met first."""
    if row.first_touch_mm is None:
        return "not met"
    return f"{row.first_touch}, {row.first_touch_mm:.0f} mm up"


def given(row: PersonRow) -> str:
    """Return how somebody stands whose stature was given, and where the leg is met next."""
    then = "nothing apart from that"
    if row.second_touch_mm is not None:
        then = (
            f"{row.second_touch}, {row.second_touch_mm:.0f} mm up, {row.second_later_mm:.0f} later"
        )
    return f"{row.person}: {row.heights}. Met next: {then}."


def knee(row: PersonRow) -> str:
    """Return how a knee stands to the face."""
    return "not known" if row.knee is None else _KNEES[row.knee]


def edge_words(row: PersonRow) -> str:
    """Return how the bonnet edge stands to a balance point, and what follows."""
    against = row.edge_against_centre_of_mass
    return "not known" if against is None else _EDGES[against]


def _numbered(title: str, texts: Sequence[str], width: int) -> list[tuple[str, bool]]:
    if not texts:
        return []
    out = [(title, True)]
    for i, text in enumerate(texts, start=1):
        out += [(line, False) for line in _wrapped(f"{i} {text}", width)]
    return out


def _said(title: str, texts: Sequence[str], width: int) -> list[tuple[str, bool]]:
    said = textwrap.wrap(" ".join(texts), width, initial_indent="  ", subsequent_indent="  ")
    return [(title, True), *((line, False) for line in said)]


def lines_words(result: Screening) -> str:
    """Return the lines at the centre in one row."""
    station = centre(result)
    marks = ", ".join(f"{mark.distance:g} at {_number(mark, 'x')}" for mark in station.wads)
    lead = station.bumper_lead
    said = [
        f"lower bumper line (LBRL) {_number(station.LBRL, 'z')} up",
        f"upper (UBRL) {_number(station.UBRL, 'z')} up",
        f"bonnet edge (BLERL) {_number(station.BLERL, 'z')} up",
        f"lead {'-' if lead is None or station.lead_open_end else f'{lead:.0f}'}",
        f"base of the windscreen (BRRL) {_number(station.BRRL, 'x')} back",
        f"distance along the skin (WAD) {marks} back" if marks else "",
    ]
    return ", ".join(filter(None, said))


def _lines(result: Screening, width: int, short: int) -> list[tuple[str, bool]]:
    text = f"Lines at the {where(result)}, mm{_GAP}{lines_words(result)}"
    out = [(line, False) for line in _wrapped(text, width)]
    missing = [f"Not formed: {text}." for text in missing_said(result.stations)]
    if len(missing) > _MOST_MISSING:
        names = sorted({text.split(":")[0] for each in result.stations for text in each.missing})
        missing = [f"Not formed everywhere: {', '.join(names)}; --stations says where and why."]
    if short >= _SHORTEST:
        missing = []
    return out + [(_shortened(text, width, "--stations"), False) for text in missing]


def _number(point: LinePoint | WadPoint, axis: str) -> str:
    """A number, with a word where it was not formed in the plain way or is not known."""
    value = point.x if axis == "x" else point.z
    if value is None:
        return "-"
    if point.status == OPEN_END:
        return f"({value:.0f}, {_NAMES[OPEN_END]})"
    plain = point.status in ("ok", "underside_first")
    return f"{value:.0f}{'' if plain else f' ({_NAMES[point.status]})'}"


def _rests_on(result: Screening, width: int, short: int) -> list[tuple[str, bool]]:
    """What to mind of the input, where more is said, all in few lines."""
    # An error that is known and still in the offsets comes first: it is in every number above.
    front = result.front
    cautions = [*filter(None, [not_corrected(front), front.not_seen]), *front.reader_cautions]
    out = [_shortened(text, width) for text in cautions[: max(_SHORTEST - max(short, 1), 1)]]
    doubts = len(result.assumed()) + len(result.unconfirmed)
    out.append(
        f"More: {'' if result.motion else '--motion, '}--stations, --findings "
        f"({len(result.findings)}), --all ({doubts} assumed or not confirmed), "
        + ("frontcheck explain, motion" if result.motion else "frontcheck explain")
    )
    return [(line, False) for line in out]


def _shortened(text: str, width: int, more: str = "--all") -> str:
    return textwrap.shorten(text, width, placeholder=f" ... ({more})")
