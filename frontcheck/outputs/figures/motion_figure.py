"""The motion figure: a person every 30 ms on a front or two, and where heads land."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.body.person_motion import KINDS
from frontcheck.caution import MOTION_CAUTIONS
from frontcheck.findings.people_rows import head_part, kind_of, percent, plain_person
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.overlay import STROKES
from frontcheck.outputs.figures.side_drawing import draw_ground

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.body.motion import MotionStudy
    from frontcheck.body.person_motion import Frames, PersonMotion
    from frontcheck.geometry.arrays import Array

USUAL: Final = "man p50"
"""Who is drawn when nobody is named."""
EVERY_MS: Final = 30.0
"""From one figure to the next."""

_SIZE: Final = (11.7, 8.3)
_ALIKE_MS: Final = 4.0
"""So near the last one a figure would only be drawn twice."""
_TIME_COLOURS: Final = ("#e8d3a0", "#c4746a", "#43305c")
"""First, middle, last: lighter to darker, so that grey print has the same order."""
_CONTOUR: Final = look.Stroke(look.INK, 1.6)
_HEAD_PATH: Final = look.Stroke(look.FACE, 1.4, (1.0, 1.4))
_PLACES: Final[dict[str, list[str]]] = look.LOOK["places"]
_SURE: Final = {"yes": "separable", "only if equally soft": "separable if alike", "no": "too close"}

# In inches, so that letters keep their room whatever the size of the figure.
_SIDE: Final = 0.35
_ABOVE: Final = 0.95
_NAMES: Final = 1.42
_WORDS: Final = 3.65
_BELOW: Final = 0.8
_BAND: Final = 0.15
_KEYS: Final = 0.25
_ROOMY: Final = 7.0
"""Figures as high as this tell every interval in words, too."""


@look.styled
def motion_figure(
    study: MotionStudy, person: str | None = None, figure: Figure | None = None
) -> Figure:
    """Draw how a person moves over one front or two, and where everybody's head lands.

    Parameters
    ----------
    study : MotionStudy
        The study.
    person : str, optional
        Whose motion is drawn; the average man, or the first person of the study, when not given.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        Above, one case on each front, to one scale: the person every 30 ms, path of the head,
        centre of mass, where the head touches. Below, wrap-around distances of the heads of
        everybody in the study, 5 to 95 in 100 cases, over the parts of the front.

    Raises
    ------
    KeyError
        If that person is not in the study.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> study = fc.motion(plover, people=fc.PEOPLE[:1], draws=20)
    >>> figure = fc.motion_figure(study)
    """
    names = [one.person for one in study.people]
    person = person or (USUAL if USUAL in names else names[0])
    if person not in names:
        raise KeyError(f"{person!r} is not in the study; it holds {', '.join(names)}")
    j = names.index(person)
    figure = figure or look.new_figure(*_SIZE)
    fronts = [look.printable(name, 13) for name in study.names]
    wide, high = figure.get_size_inches()
    roomy = high > _ROOMY
    row = (0.24 if len(fronts) == 1 else 0.42) if roomy else 0.17
    above = _ABOVE + 0.14 * max(_head(figure, study, fronts, person) - 2, 0)
    rows = len(fronts) * _BAND + len(names) * row + 0.12
    words = _WORDS if roomy else _SIDE
    below = _cautions(figure, roomy=roomy) + (_BELOW if roomy else 0.9 * _BELOW)
    key = _KEYS if roomy else 0.8 * _KEYS
    place = (_NAMES / wide, below / high, 1.0 - (_NAMES + words) / wide, rows / high)
    _draw_bars(figure.add_axes(place), study, fronts, j, row, roomy=roomy)
    strip = below + rows + 2.8 * key
    each = (wide - 2.0 * _SIDE) / len(fronts) / wide
    shown = [_moments(of[j]) for of in study.frames]
    for i, front in enumerate(fronts):
        tall = 1.0 - (strip + above) / high
        ax = figure.add_axes((_SIDE / wide + i * each, strip / high, 0.98 * each, tall))
        _draw_strip(ax, study, i, j, shown)
        title, size = f"{front}: {_becomes(study.motions[i][j])}", look.TEXT + 0.5
        ax.set_title(title, loc="left", fontsize=size, fontweight="bold", gid="becomes")
    for k, keys in enumerate((_motion_keys(study, j), _bar_keys(study, fronts))):
        up = (strip - 0.08 - key * k) / high
        look.legend(figure, keys, _SIDE / wide, up, ncols=9, handlelength=2.0, columnspacing=1.6)
    look.foot(figure)
    return figure


def _cautions(figure: Figure, *, roomy: bool) -> float:
    """Write what the model does not say above the foot; return the room that it takes [inches]."""
    said = " ".join(MOTION_CAUTIONS if roomy else MOTION_CAUTIONS[1:])
    lines = textwrap.wrap(said, int(19.0 * (figure.get_figwidth() - 2.0 * _SIDE)))
    style = {"fontsize": look.SMALL, "gid": "what it does not say"}
    look.write(figure, _SIDE, 0.34, "\n".join(lines), **style)
    return 0.125 * len(lines)


def _both(study: MotionStudy, j: int, shown: Sequence[list[int]]) -> list[tuple[Frames, list[int]]]:
    pairs = [(of[j], steps) for of, steps in zip(study.frames, shown, strict=True)]
    return [(frames, steps) for frames, steps in pairs if frames is not None]


def _head(figure: Figure, study: MotionStudy, fronts: Sequence[str], person: str) -> int:
    """Write title and explanation; return how many lines that has."""
    y, wide = study.sides[0].station.y, figure.get_figwidth()
    where = "centre plane" if y == 0.0 else f"y = {y:g} mm"
    who = look.printable(plain_person(person), 40)
    title = f"{who[0].upper()}{who[1:]} struck by {' and '.join(fronts)}: {where}, "
    title += f"{study.speed_km_h:g} km/h"
    words = look.told("motion", draws=study.draws)
    said = textwrap.fill(words, int(13.6 * wide))
    look.head(figure, title, said, left=_SIDE / wide, top=0.14)
    return said.count("\n") + 1


def _becomes(one: PersonMotion) -> str:
    """Kind with its share, or the three shares where none is named."""
    if one.refused or one.kind != "undecided":
        return kind_of(one) + " of the cases" * (not one.refused)
    shares = (f"{name} {percent(one.shares[name])}" for name in KINDS)
    return f"undecided ({', '.join(shares)})"


# Above: figures over a front.


def _moments(frames: Frames | None) -> list[int]:
    """Which of the poses kept are drawn: every 30 ms, and the last."""
    if frames is None:
        return []
    times = frames.times_ms
    wanted = np.arange(0.0, times[-1] - _ALIKE_MS, EVERY_MS)
    steps = np.abs(times - wanted[:, None]).argmin(axis=1).tolist()
    return [*dict.fromkeys(steps), len(times) - 1]


def silhouette(frames: Frames, step: int) -> list[Array]:
    """Return the outline of a person at one of the poses kept."""
    import shapely

    discs = shapely.buffer(shapely.points(frames.circles_mm[step]), frames.radii_mm, quad_segs=12)
    rims = [shapely.get_coordinates(discs[list(band)]) for band in frames.spanned]
    whole = shapely.union_all(shapely.convex_hull([shapely.multipoints(rim) for rim in rims]))
    return [np.asarray(piece.exterior.coords) for piece in shapely.get_parts(whole)]


def _draw_strip(ax: Axes, study: MotionStudy, i: int, j: int, shown: Sequence[list[int]]) -> None:
    ax.set_axis_off()
    look.fit_limits(ax, _box(study, j, shown), (0.06, 0.12, 0.06, 0.32))
    drawing = look.Drawing(ax)
    draw_ground(drawing, *ax.get_xlim())
    drawing.line(study.sides[i].section.points, _CONTOUR, gid="contour", zorder=6.0)
    frames, why = study.frames[i][j], study.motions[i][j].reason
    edge = study.sides[i].station.BLERL.point
    if edge is not None:
        drawing.dot(edge, marker="D", size=5.0, color=look.LINE_STYLES["BLERL"].color)
        words = f"leading edge {edge[1]:.0f} mm up"
        drawing.label(words, edge, prefer=(1.0, -0.6), size=look.SMALL, rank=2)
    said = f"Not drawn: {why or 'nothing is touched in any case'}."
    if frames is not None:
        last = max(float(f.times_ms[steps[-1]]) for f, steps in _both(study, j, shown))
        for n, step in enumerate(shown[i]):
            at = float(frames.times_ms[step])
            r, g, b = _colour(at, last)
            rim = (0.6 * r, 0.6 * g, 0.6 * b, 0.95)
            how = {"linewidth": 0.8, "zorder": 2.0 + 0.1 * n, "gid": "person"}
            for outline in silhouette(frames, step):
                drawing.fill(outline, (r, g, b, 0.5), rim, **how)
            drawing.dot(frames.centre_of_mass_mm[step], marker="x", size=5.0, color=look.INK)
            top = frames.head_mm[step] + (0.0, frames.head_radius_mm)
            words = f"{abs(round(at))} ms"
            drawing.label(words, top, prefer=(0.0, 1.0), size=look.SMALL)
        path = frames.head_mm[frames.times_ms >= 0.0]
        drawing.line(path, _HEAD_PATH, zorder=7.0, gid="path of the head")
        if frames.contact_mm is not None:
            drawing.dot(frames.contact_mm, marker="*", size=11.0, color=look.FACE, filled=True)
        said = f"No place of the head is given: {why}." if why else ""
    said = textwrap.fill(said, 40)
    drawing.label(said, None, prefer=(1.0, 1.0), size=look.SMALL, rank=3)
    drawing.finish()


def _box(
    study: MotionStudy, j: int, shown: Sequence[list[int]]
) -> tuple[float, float, float, float]:
    """What every strip holds, so that all have one scale."""
    xs, zs = ([getattr(side.section, axis) for side in study.sides] for axis in ("x", "z"))
    for frames, steps in _both(study, j, shown):
        across = frames.circles_mm[steps]
        xs += [across[..., 0] - frames.radii_mm, across[..., 0] + frames.radii_mm]
        zs += [across[..., 1] + frames.radii_mm]
    x, z = (np.concatenate([np.ravel(each) for each in of]) for of in (xs, zs))
    return float(x.min()), 0.0, float(x.max()), max(float(z.max()), 0.0)


def _colour(at: float, last: float) -> tuple[float, float, float]:
    from matplotlib.colors import to_rgb

    share = float(np.clip(at / max(last, 1.0), 0.0, 1.0))
    stops = np.array([to_rgb(each) for each in _TIME_COLOURS])
    rgb = [float(np.interp(share, (0.0, 0.5, 1.0), column)) for column in stops.T]
    return rgb[0], rgb[1], rgb[2]


def _motion_keys(study: MotionStudy, j: int) -> list[Artist]:
    drawn = [frames for of in study.frames if (frames := of[j]) is not None]
    edge = look.LINE_STYLES["BLERL"].color
    keys: list[Artist] = []
    for there, marker, size, color, words in (
        (any(each.contact_mm is not None for each in drawn), "*", 9.0, look.FACE,
         "head touches the front"),
        (bool(drawn), "x", 6.0, look.INK, "centre of mass (balance point)"),
        (True, "D", 5.0, edge, "bonnet leading edge reference line"),
    ):  # fmt: skip
        if there:
            keys.append(look.key(words, **look.dots(marker, size, color, width=1.0)))
    path = [look.key("path of the head", **_HEAD_PATH.options())] if drawn else []
    return [*path, *keys]


def _bar_keys(study: MotionStudy, fronts: Sequence[str]) -> list[Artist]:
    from matplotlib.patches import Patch

    keys: list[Artist] = [
        Patch(facecolor=stroke.color, label=f"heads on {front}")
        for front, stroke, of in zip(fronts, STROKES.values(), study.motions, strict=False)
        if any(one.wad_mm is not None for one in of)
    ]
    used = {band.place for bands in study.bands for band in bands}
    return keys + [
        Patch(facecolor=fill, hatch=hatch, edgecolor=look.MUTED, label=place)
        for place, (fill, hatch) in _PLACES.items()
        if place in used
    ]


# Below: where heads land.


def _draw_bars(
    ax: Axes, study: MotionStudy, fronts: Sequence[str], drawn: int, row: float, *, roomy: bool
) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.transforms import blended_transform_factory

    people, count = study.people, len(fronts)
    ends = [band.high_mm for bands in study.bands for band in bands]
    ends += [one.wad_mm.p95 for of in study.motions for one in of if one.wad_mm is not None]
    starts = [bands[0].low_mm for bands in study.bands if bands]
    low, high = min(starts, default=0.0), max(ends, default=1000.0)
    floor, room = len(people) * row + 0.06, 0.01 * (high - low)
    ax.set(xlim=(low - room, high + room), ylim=(0.0, floor + count * _BAND + 0.06), yticks=())
    look.plain_axes(ax, off="top right left")
    ax.set_xlabel(look.told("heads"), loc="left")
    beside = blended_transform_factory(ax.transAxes, ax.transData)

    def aside(right: bool, y: float, text: str, **more: Any) -> None:
        side = "left" if right else "right"
        style: dict[str, Any] = {"va": "center", "fontsize": look.SMALL, "clip_on": False}
        ax.text(1.01 if right else -0.01, y, text, transform=beside, ha=side, **style | more)

    for i, (front, bands) in enumerate(zip(fronts, study.bands, strict=True)):
        y = floor + (count - i - 1) * _BAND + 0.03
        aside(False, y + _BAND / 2.0, front)
        for each in bands:
            fill, hatch = _PLACES[each.place]
            ax.add_patch(
                Rectangle(
                    (each.low_mm, y), each.high_mm - each.low_mm, _BAND - 0.02, facecolor=fill,
                    hatch=hatch, edgecolor=look.PAPER, linewidth=0.6, gid=f"band {each.place}",
                )
            )  # fmt: skip
        if not bands:
            y += _BAND / 2.0
            ax.text(low, y, "not said", va="center", fontsize=look.SMALL, clip_on=False)
    for k, one in enumerate(people):
        top = (len(people) - k) * row
        ax.axhline(top, color=look.SKIN, linewidth=0.7, zorder=0.5)
        who = look.printable(plain_person(one.person), 22)
        aside(False, top - row / 2.0, who, fontweight="bold" if k == drawn else "normal")
        room = row / (count + (roomy and count > 1) + 0.4)
        for i, of in enumerate(study.motions):
            middle = top - (i + 0.7) * room
            _bar(ax, of[k], middle, room, "AB"[i])
            if roomy:
                aside(True, middle, f"{fronts[i]}: " * (count > 1) + _told(of[k]))
        if study.changes and roomy:
            aside(True, top - (count + 0.7) * room, _moved(study, k), color=look.MUTED)


def _bar(ax: Axes, one: PersonMotion, y: float, room: float, front: str) -> None:
    if one.wad_mm is None:
        return
    low, high, middle = one.wad_mm.p5, one.wad_mm.p95, one.wad_mm.median
    tall, who = 0.55 * min(room, 0.16), f"{front} {one.person}"
    ax.barh(y, high - low, tall, low, color=STROKES[front].color, gid=f"heads {who}", zorder=3.0)
    ax.plot(
        [middle, middle], [y - 0.8 * tall, y + 0.8 * tall], color=look.INK, linewidth=1.2,
        solid_capstyle="butt", zorder=4.0, gid=f"median {who}",
    )  # fmt: skip


def _told(one: PersonMotion) -> str:
    """Kind, interval and part of the front, in the room of one line."""
    if one.refused:
        return kind_of(one)
    wad = "" if one.wad_mm is None else f"{one.wad_mm.p5:.0f} to {one.wad_mm.p95:.0f}, "
    return f"{kind_of(one)}; {wad}{head_part(one) or 'place of the head not given'}"


def _moved(study: MotionStudy, k: int) -> str:
    change = study.changes[k]
    if change.wad is None:
        return "not compared"
    spread = change.wad.spread
    return (
        f"moves {spread.median:+.0f} ({spread.p5:+.0f} to {spread.p95:+.0f}), "
        f"{_SURE[change.separable]}"
    )
