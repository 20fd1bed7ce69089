"""What the command ``leg`` says on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.errors import escaped

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from frontcheck.legs.contact import FirstTouch
    from frontcheck.legs.leg_order import Order
    from frontcheck.legs.leg_study import LegAt, LegStation, LegStudy
    from frontcheck.outputs.text.terminal import Style

_NONE: Final = "-"
_ORDER: Final = ("touches 1st", "touches 2nd", "touches 3rd")


def leg_text(style: Style, study: LegStudy, out: Path | None = None) -> str:
    """Return a leg study as text, stiffness first."""
    first, *cautions = study.cautions
    person = study.person
    parts = [
        style.paragraph(first, loud=True),
        style.paragraph(f"{study.legform_words}."),
        style.paragraph(
            f"Person: {person.name}, {person.words}. Rules: {study.fronts[0].rules.title}."
        ),
    ]
    for station in study.stations:
        parts += _station(style, study, station)
    parts += [style.paragraph(note) for note in study.notes]
    parts += [style.paragraph(text) for text in cautions]
    if out is not None:
        parts.append(style.paragraph(f"Written: {escaped(out)}"))
    return style.spelt_out(parts)


def _station(style: Style, study: LegStudy, station: LegStation) -> list[str]:
    fronts = station.fronts
    header = ["", *[at.name for at in fronts]]
    parts = []
    for title, rows in (
        (f"Leg of {study.person.name}", _person_rows(study)),
        ("Legform", _legform_rows(study, station)),
    ):
        cells = [[row, *[cell(at) for at in fronts]] for row, cell in rows]
        parts.append(style.table(f"{title} at station y = {station.y:g} mm", header, cells))
    said = [station.order.sentence, _ratios(station.order)] if station.order else []
    said += [f"Not ranked: {station.no_order}."] if station.no_order else []
    for at in fronts:
        notes = [at.lower_refusal] if at.lower_refusal and not station.no_order else []
        said += [f"{at.name}: {text}." for text in (*notes, at.choice, *at.missing) if text]
        if at.idle_parts:
            said.append(
                f"{at.name}: the legform does not face {', '.join(at.idle_parts)} here; the value "
                "given for it changes nothing."
            )
    return [*parts, *[style.paragraph(text) for text in said if text]]


def _person_rows(study: LegStudy) -> list[tuple[str, Callable[[LegAt], str]]]:
    rows: list[tuple[str, Callable[[LegAt], str]]] = [
        ("first touch", lambda at: _touch(at.met.first if at.met else None)),
        ("second touch", _second),
        ("leg free of touch, mm up", _free),
    ]
    rows += [(title, lambda at, i=i: _member(at, i)) for i, title in enumerate(_ORDER)]  # type: ignore[misc]
    rows.append(("knee and bumper", _band))
    for i, depth in enumerate(study.depths):
        rows += [
            (f"at {depth:g} mm: load height", lambda at, i=i: _height(at, i)),  # type: ignore[misc]
            ("below / across / above knee", lambda at, i=i: _shares(at, i)),  # type: ignore[misc]
        ]
    return rows


def _legform_rows(study: LegStudy, station: LegStation) -> list[tuple[str, Callable[[LegAt], str]]]:
    rows: list[tuple[str, Callable[[LegAt], str]]] = [("a test would use", _test)]
    if any(at.run for at in station.fronts):
        rows += [
            (f"opening rate at {depth:g} mm, rad/s per N s", lambda at, i=i: _rate(at, i))  # type: ignore[misc]
            for i, depth in enumerate(study.depths)
        ]
        rows += [
            ("knee", _knee),
            ("tibia bends most", _bends),
            ("run", _status),
        ]
    if any(at.upper for at in station.fronts):
        rows += [("upper legform: face", _face), ("as high as the bumper", _on_bumper)]
        rows += [
            ("as high as UBRL to BLERL", _on_edge),
            (f"load height at {study.depths[-1]:g} mm", _upper_load),
        ]
    return rows


def _test(at: LegAt) -> str:
    words = {"lower": "lower legform", "either": "either legform", "upper": "upper legform"}
    return words.get(at.station.legform or "", "not known")


def _knee(at: LegAt) -> str:
    if at.run is None or not at.run.usable:
        return _NONE
    moment = at.run.time[abs(at.run.knee_angle).argmax()]
    return f"{'opens' if at.run.opens else 'closes'}, farthest after {moment:.0f} ms"


def _bends(at: LegAt) -> str:
    height = at.run.tibia_bending_height if at.run else None
    return _NONE if height is None else f"{height:.0f} mm high"


def _face(at: LegAt) -> str:
    return _NONE if at.upper is None else f"{at.upper.low:.0f} to {at.upper.high:.0f} mm high"


def _on_bumper(at: LegAt) -> str:
    return _NONE if at.upper is None else f"{at.upper.bumper_overlap:.0f} mm of it"


def _on_edge(at: LegAt) -> str:
    case = at.upper
    if case is None or case.edge_overlap is None or case.edge_below_top is None:
        return _NONE
    side = "below" if case.edge_below_top >= 0.0 else "above"
    return f"{case.edge_overlap:.0f} mm; BLERL {abs(case.edge_below_top):.0f} mm {side} its top"


def _upper_load(at: LegAt) -> str:
    return _NONE if at.upper is None else f"{at.upper.load_height[-1]:.0f} mm"


def _ratios(order: Order) -> str:
    """Ratios in words: what is not ranked stands as such."""
    a, b = order.names
    known = [
        (what, ratio)
        for what, ratio in (
            ("knee opening", order.ratio),
            ("knee shear (not ranked)", order.shear),
            ("tibia bending (not ranked)", order.bending),
        )
        if ratio is not None
    ]
    said = "; ".join(
        f"{what} {mid:.2f} ({low:.2f} to {high:.2f})" for what, (low, mid, high) in known
    )
    return f"{b} over {a}, middle of the draws (and 90 % of them): {said}." if known else ""


def _second(at: LegAt) -> str:
    if at.met is None or at.met.second is None:
        return _NONE
    return f"{_touch(at.met.second)}, {at.met.later_mm:.0f} mm later"


def _free(at: LegAt) -> str:
    if at.met is None:
        return _NONE
    free = ", ".join(f"{low:.0f} to {high:.0f}" for low, high in at.met.free_mm)
    return f"{free or 'nothing'}, {at.met.reach_mm:g} mm in"


def _touch(touch: FirstTouch | None) -> str:
    if touch is None:
        return _NONE
    side = "above" if touch.above_knee_mm >= 0.0 else "below"
    return (
        f"{touch.place}, {touch.z:.0f} mm high, {abs(touch.above_knee_mm):.0f} mm {side} the knee"
    )


def _member(at: LegAt, i: int) -> str:
    if i >= len(at.contact.members):
        return _NONE
    member = at.contact.members[i]
    later = f", {member.closing_mm:.1f} mm later" if i else ""
    return f"{member.name}, {member.z:.0f} mm high{later}"


def _band(at: LegAt) -> str:
    if at.band is None:
        return _NONE
    band = at.band
    if band.place == "inside":
        near = (
            f"{band.high - band.knee:.0f} mm below UBRL"
            if band.high - band.knee <= band.knee - band.low
            else f"{band.knee - band.low:.0f} mm above LBRL"
        )
    elif band.place == "above":
        near = f"{band.knee - band.high:.0f} mm above UBRL"
    else:
        near = f"{band.low - band.knee:.0f} mm below LBRL"
    return f"{band.place} {band.low:.0f} to {band.high:.0f} mm, {near}"


def _height(at: LegAt, i: int) -> str:
    return _NONE if at.load is None else f"{at.load.height[i]:.0f} mm"


def _shares(at: LegAt, i: int) -> str:
    if at.load is None:
        return _NONE
    shares = (at.load.below[i], at.load.across[i], at.load.above[i])
    return " / ".join(f"{100.0 * share:.0f} %" for share in shares)


def _rate(at: LegAt, i: int) -> str:
    if at.response is None:
        return _NONE
    return f"{at.response.rate[i]:.2f}, {at.response.sense(i)}"


def _status(at: LegAt) -> str:
    run = at.run
    if run is None:
        return _NONE
    words = {
        "ok": f"ran {run.time[-1]:g} ms",
        "rotation_limit": f"ended early, {run.time[-1]:.1f} ms",
        "out_of_balance": "out of balance, not to be used",
    }[run.status]
    return f"{words}; energy to {run.energy_error:.0e}"
