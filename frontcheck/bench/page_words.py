"""What the page says, as HTML: every word that comes from outside is escaped."""

from __future__ import annotations

from base64 import b64encode
from html import escape
from typing import TYPE_CHECKING, Final

from frontcheck.findings.people_rows import percent
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES
from frontcheck.outputs.text.terminal import Plain
from frontcheck.reading.table import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from frontcheck.body.motion import MotionStudy
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.front.front import Front
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.screening import Screening
    from frontcheck.study.sensitivity import Sensitivity

LATE: Final = '<p class="late">catching up ...</p>'
WAIT: Final = "<p>Wait until the answer is up to date, then ask again.</p>"
READING: Final = '<p class="late">reading ...</p>'
FAULT: Final = (
    "this is a fault of frontcheck; please report what the terminal says, and what was done here"
)
NOT_MADE: Final = "<p>Nothing made of the present shape yet.</p>"
KEY: Final = (
    '<p class="small">Solid: A, coloured by part. Dotted: A as loaded. Dashed, blue: B. Orange '
    "diamonds: proposed points, never measured. Thin straight lines: the straight edges that find "
    "LBRL, UBRL and BLERL. Yellow band: the tape. Strips: headform areas; numbered ones: what the "
    "answer's lines are about.</p>"
)
HANDBOOK: Final = "handbook"
"""Where the handbook is, beside the page."""
TO_HANDBOOK: Final = f'<a href="{HANDBOOK}" target="_blank" rel="noopener">Handbook</a>'
NO_OTHER: Final = "<p>No second shape yet. Keep the present one as B, or load one under Files.</p>"
MOTION: Final = (
    "<p>A standing person is struck from the side in many assumed cases, until the head touches. "
    "Shares are of these cases, never a chance. Takes some seconds.</p>"
)
LOADING: Final = (
    "<p>An offset table, a spreadsheet, a drawing, a mesh or a model. A front file (.toml) is "
    "chosen together with the files that it names. Nothing leaves this machine.</p>"
)
PHOTO: Final = (
    "<p>A side photo with a board of known size standing on the ground in the centre plane. Zoom "
    "in with the wheel, then click two points of the ground line on which the board stands; its "
    "corners, bottom left, bottom right, top right, top left; the outline from the lowest of the "
    "face over the nose to the windscreen. Clicks can be dragged.</p>"
)
PHOTO_LIMITS: Final = (
    '<p class="small">The camera stands square to the car, beside its foremost point, at bonnet '
    "height (1 m at most), 5 m away or more; better 10 m and zoom. The board has 1 m or more and "
    "stands close to the nose. <b>A photo cannot show</b> recesses and a lower lip behind the "
    "corners of the bumper, so no lower bumper line, nor the plan shape, nor stations off the "
    "centre: what depends on them is <b>not seen</b>, never none.</p>"
)
MEANINGS: Final = {
    "LBRL": "lower bumper reference line",
    "UBRL": "upper bumper reference line",
    "BLERL": "bonnet leading edge reference line",
    "BRRL": "bonnet rear reference line",
}
_LINES: Final = {
    "LBRL_z_mm": "LBRL height",
    "UBRL_z_mm": "UBRL height",
    "BLERL_z_mm": "BLERL height",
    "bumper_lead_mm": "lead",
    "WAD_1000_x_mm": "WAD 1000 setback",
}
"""Lines of the table of what moves what: as many as stand beside each other."""
_DIGITS: Final = {"mm": 1, "in": 2}
_KINDS: Final = {"pushed": "pushed ahead", "folded": "folded over", "carried": "carried up"}


class Lengths:
    """Lengths in the unit that was chosen."""

    def __init__(self, unit: str) -> None:
        self.unit = unit
        self.scale, self.step = 1.0 / MM_PER_UNIT[unit], 1.0 if unit == "mm" else 0.05

    def said(self, value: float | None, *, sign: bool = False) -> str:
        """Return a length as text; a dash where there is none."""
        if value is None:
            return "-"
        digits = _DIGITS[self.unit]
        shown = round(value * self.scale, digits) + 0.0
        return f"{shown:{'+' if sign else ''}.{digits}f}".replace("-", "\N{MINUS SIGN}")


def table(head: Sequence[str], rows: Iterable[Sequence[str]], css: str = "") -> str:
    """Return a table; the first cell of a row is its heading. Cells are HTML already."""
    top = "".join(f'<th scope="col">{cell}</th>' for cell in head)
    body = "".join(
        f'<tr><th scope="row">{cells[0]}</th>'
        f"{''.join(f'<td>{cell}</td>' for cell in cells[1:])}</tr>"
        for cells in rows
    )
    return f'<table class="{css}"><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>'


def numbers(station: Station, lengths: Lengths, whole: Station | None) -> str:
    """Return the lines of the section; what needs the whole front is blank until that is there."""
    rear = whole.BRRL if whole is not None else None
    points: list[tuple[str, str, LinePoint | WadPoint | None]] = [
        (line.name, MEANINGS[line.name], rear if line.name == "BRRL" else line)
        for line in station.lines
    ]
    points += [(mark.name, "wrap-around distance", mark) for mark in station.wads]
    head = ["", *(f'<abbr title="{words}">{name}</abbr>' for name, words, _ in points), "lead"]
    rows = [
        [
            f"height [{lengths.unit}]",
            *(_cell(name, point, "z", lengths) for name, _, point in points),
            "",
        ],
        [
            f"setback [{lengths.unit}]",
            *(_cell(name, point, "x", lengths) for name, _, point in points),
            f'<span class="fc-lead">{_lead(station, lengths)}</span>',
        ],
    ]
    said = [
        f"{name}: {STATUS_NAMES.get(point.status, point.status.replace('_', ' '))}"
        for name, _, point in points
        if point is not None and point.status != "ok"
    ]
    below = f'<p class="small">{escape("; ".join(said))}</p>' if said else ""
    return table(head, rows, "numbers") + below


def _lead(station: Station, lengths: Lengths) -> str:
    text = lengths.said(station.bumper_lead)
    return f"({text})" if station.lead_open_end else text


def _cell(name: str, point: LinePoint | WadPoint | None, axis: str, lengths: Lengths) -> str:
    if point is None:
        return '<span class="late">...</span>'
    value = point.x if axis == "x" else point.z
    text = lengths.said(value)
    text = f"({text})" if point.status == OPEN_END else text
    return f'<span class="fc-{name.replace(" ", "-")}-{axis}">{text}</span>'


def answer(result: Screening | None, *, late: bool) -> str:
    """Return the answer, in the words of the terminal."""
    if result is None:
        return '<p class="late">working it out ...</p>'
    css = "answer old" if late else "answer"
    return f'<pre class="{css}">{escape(Plain().screening(result))}</pre>'


def state(*, late: bool, moved: int, left: Sequence[str], refused: str) -> str:
    """Return whether all that is shown is of the shape that is shown."""
    if refused:
        return f'<p class="refused" role="alert">Not done: {escape(refused)}</p>'
    shape = (
        f"<b>proposed</b>, {moved} points here not measured" if moved else "<b>as loaded</b> here"
    )
    ready = "catching up: answer, areas and BRRL are of the shape before" if late else "up to date"
    css = "late" if late else "ready"
    rest = f" Not moved everywhere: {escape('; '.join(left))}." if left else ""
    return f'<p><span class="{css}">{ready}</span> Shape {shape}.{rest}</p>'


def people(study: MotionStudy | None, *, current: bool, lengths: Lengths) -> str:
    """Return what becomes of people; cells are blank once the shape has been moved."""
    if study is None:
        return "<p>Not worked out for this shape.</p>"
    rows: list[list[str]] = []
    for one in study.people:
        if not current:
            rows.append([escape(one.person), "", ""])
        elif one.refused:
            rows.append([escape(one.person), escape(one.reason), ""])
        else:
            share, kind = max((one.shares[key], said) for key, said in _KINDS.items())
            unsure = "?" if one.kind == "undecided" else ""
            wad = one.wad_mm
            head = "-" if wad is None else f"{lengths.said(wad.p5)} to {lengths.said(wad.p95)}"
            rows.append([escape(one.person), f"{percent(share)} {kind}{unsure}", head])
    columns = ["who", f"of {study.draws} assumed cases", f"head lands at WAD [{lengths.unit}]"]
    blank = "" if current else "<p>Blank: the shape was moved since. Work it out again.</p>"
    return table(columns, rows, "people") + blank


def progress(share: float) -> str:
    """Return how far a long piece of work has come."""
    return f'<progress max="1" value="{share:.2f}"></progress> {100.0 * share:.0f} %'


_SAVES: Final = {
    "shape.csv": "the shape as an offset table, its moved points marked as proposed",
    "screening.json": "the screening document",
    "side.svg": "a picture of this side section",
    "annex.pdf": "the annex for a design review; takes some seconds",
}


def saves(made: Mapping[str, bytes]) -> str:
    """Return links that hold the files themselves, so that nothing else can be asked for them."""
    rows = (
        f'<li><a href="data:application/octet-stream;base64,{b64encode(data).decode()}" '
        f'download="{name}">{name}</a>: {_SAVES[name]}</li>'
        for name, data in made.items()
    )
    return f"<ul>{''.join(rows)}</ul>"


def per_ten(table_: Sensitivity, lengths: Lengths) -> str:
    """Return by how much each line moves for a small move of each feature."""
    names = [name for name in table_.lines if name in _LINES]
    body, notes = [], []
    for handle in table_.there:
        rates = [table_.rate(handle.name, name) for name in names]
        body.append([escape(handle.label), *(_moved(rate.mm, lengths) for rate in rates)])
        notes += [f"{handle.label}, {_LINES[r.line]}: {r.reason}" for r in rates if r.reason]
    text = (
        f"<p>How far a line goes [{lengths.unit}] for 10 mm (or 1 deg) of a feature, from the "
        "present shape, at this station. A dot: it stays.</p>"
        + table(["", *(_LINES[name] for name in names)], body, "per-ten")
    )
    if notes:
        text += f'<p class="small">* No one rate: {escape("; ".join(notes))}.</p>'
    absent = {handle.words: why for handle, why in table_.absent.items()}
    said = "; ".join(f"{name} ({why})" for name, why in absent.items())
    return text + (f'<p class="small">Not to be moved here: {escape(said)}.</p>' if said else "")


def _moved(value: float | None, lengths: Lengths) -> str:
    if value is None:
        return "*"
    return lengths.said(value, sign=True) if abs(value) >= 0.05 else "."


_CLICKED: Final = {"ground": "ground", "corners": "board", "outline": "outline"}


def photo_missing(missing: Mapping[str, int], *, there: bool) -> str:
    """Return what is still to be clicked."""
    if not there:
        return "<p>No photo yet.</p>"
    left = (f"{_CLICKED[kind]} {count} more" for kind, count in missing.items() if count > 0)
    return f"<p><b>To click:</b> {', '.join(left)}.</p>"


def photo_read(front: Front) -> str:
    """Return how sure a section read from a photo is, and what to mind of it."""
    said = (*front.reader_cautions, front.not_seen)
    minded = "".join(f"<li>{escape(each)}</li>" for each in said)
    sure = f"<b>Read.</b> {escape(front.reader_notes[-1])} Does the grid lie on the board?"
    return f"<p>{sure}</p><ul>{minded}</ul>"


def photo_refused(why: str) -> str:
    """Return why clicks make no section."""
    return f'<p class="refused">Not read: {escape(why)}</p>'


def differences(comparison: Comparison, y: float, lengths: Lengths) -> str:
    """Return what changes from the shape on the bench (A) to B at a station."""
    station = next((s for s in comparison.stations if abs(s.y - abs(y)) < 1e-6 or s.y == y), None)
    if station is None:
        return "<p>B cannot be compared at this station.</p>"
    rows = []
    for change in station.changes:
        if change.unit == "mm" and isinstance(change.a, int | float):
            cells = [lengths.said(change.a), lengths.said(_number(change.b))]
            cells.append(lengths.said(_number(change.change), sign=True))
            rows.append([escape(change.words), *cells])
    return table(["", "A", "B", f"B less A [{lengths.unit}]"], rows, "differences")


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
