"""What the command ``leg`` says on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from frontcheck.legs.leg_order import Ranking
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
        style.paragraph(f"Assumed: {study.settings.words}."),
        style.paragraph(
            f"Leg: {person.name}, knee {person.knee.known():.0f} mm and hip "
            f"{person.hip.known():.0f} mm high. Rules: {study.fronts[0].rules.title}."
        ),
    ]
    for station in study.stations:
        parts += _station(style, study, station)
    parts += [style.paragraph(note) for note in study.notes]
    parts += [style.paragraph(text) for text in cautions]
    if out is not None:
        parts.append(style.paragraph(f"Written: {out}"))
    return style.spelt_out(parts)


def _station(style: Style, study: LegStudy, station: LegStation) -> list[str]:
    fronts = station.fronts
    rows = [[title, *[cell(at) for at in fronts]] for title, cell in _rows(study)]
    header = ["", *[at.name for at in fronts]]
    parts = [style.table(f"Station y = {station.y:g} mm", header, rows)]
    reasons = {ranking.reason for ranking in station.rankings}
    if len(reasons) == 1 and "" not in reasons:
        parts.append(style.paragraph(f"Not ranked: {reasons.pop()}."))
        rankings: tuple[Ranking, ...] = ()
    else:
        rankings = station.rankings
    for ranking in rankings:
        parts.append(style.paragraph(" ".join((ranking.sentence, ranking.holds_sentence)).strip()))
    for at in fronts:
        parts += [style.paragraph(f"{at.name}: {text}.") for text in at.missing]
        if at.idle_parts:
            parts.append(
                style.paragraph(
                    f"{at.name}: the legform does not face {', '.join(at.idle_parts)} here; the "
                    "value given for it changes nothing."
                )
            )
    return parts


def _rows(study: LegStudy) -> list[tuple[str, Callable[[LegAt], str]]]:
    rows: list[tuple[str, Callable[[LegAt], str]]] = [("first touch on the leg", _touch)]
    rows += [(title, lambda at, i=i: _member(at, i)) for i, title in enumerate(_ORDER)]  # type: ignore[misc]
    rows.append(("knee and bumper", _band))
    for i, depth in enumerate(study.depths):
        rows += [
            (f"at {depth:g} mm: load height", lambda at, i=i: _height(at, i)),  # type: ignore[misc]
            ("below / across / above knee", lambda at, i=i: _shares(at, i)),  # type: ignore[misc]
            ("opening rate, rad/s per N s", lambda at, i=i: _rate(at, i)),  # type: ignore[misc]
        ]
    return [
        *rows,
        ("peak knee angle", lambda at: _peak(at.run.peak_knee_angle if at.run else None, "deg", 1)),
        ("peak knee shear", lambda at: _peak(at.run.peak_knee_shear if at.run else None, "mm", 2)),
        (
            "peak tibia acceleration",
            lambda at: _peak(at.run.peak_tibia_acceleration if at.run else None, "g", 0),
        ),
        ("run", _status),
    ]


def _touch(at: LegAt) -> str:
    if at.touch is None:
        return _NONE
    side = "above" if at.touch.above_knee_mm >= 0.0 else "below"
    return (
        f"{at.touch.place}, {at.touch.z:.0f} mm high, {abs(at.touch.above_knee_mm):.0f} mm {side} "
        "the knee"
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


def _peak(value: float | None, unit: str, digits: int) -> str:
    return _NONE if value is None else f"{value:.{digits}f} {unit}"


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
