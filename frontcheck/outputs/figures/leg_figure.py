"""The leg figure: where the front meets a person beside it; the legform of the rules apart."""

from __future__ import annotations

import itertools
import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import LEG_CAUTION
from frontcheck.findings.abbreviations import legend
from frontcheck.legs.person_leg import leg_load
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import side_drawing as side
from frontcheck.outputs.figures.side_drawing import millimetres

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.legs.contact import FirstTouch
    from frontcheck.legs.foundation import FoundationLoad
    from frontcheck.legs.person_leg import LegLoad
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import Station
    from frontcheck.people.people import Person
    from frontcheck.surface.section import Section

# Curves of the leg figure over depth: height of the load and its shares.

_KNEE: Final = "#7a2f3b"
_BAND: Final = "#ead9dc"
_SHARES: Final = (
    ("below", "#3d7068", "below the knee band", "white"),
    ("across", "#e6d9b8", "across it", look.INK),
    ("above", "#8c5a33", "above it", "white"),
)


def _settle(ax: Axes, depth: float, load: FoundationLoad, title: str) -> None:
    ax.axvline(depth, color=look.INK, linewidth=0.9, linestyle=(0, (2.0, 2.0)), zorder=6.0)
    ax.set_xlim(0.0, float(load.depth[-1]))
    ax.set_title(title, fontsize=look.TEXT + 0.5, loc="left")
    look.plain_axes(ax)


def draw_load_height(ax: Axes, load: FoundationLoad, person: Person, depth: float) -> None:
    """Draw the height of the resultant over depth, with the knee band."""
    knee, half = load.knee, load.half_band
    ax.axhspan(knee - half, knee + half, color=_BAND, zorder=0.5)
    ax.axhline(knee, color=_KNEE, linewidth=1.2, linestyle=(0, (5.0, 2.0)), zorder=2.0)
    ax.plot(load.depth, load.height, color=look.INK, linewidth=2.2, zorder=4.0)
    low, high = float(load.height.min()), float(load.height.max())
    ax.set_ylim(min(low, knee - half) - 60.0, max(high, knee + half) + 60.0)
    _name_knee(ax, load, person)
    ax.set_ylabel("z [mm]")
    _settle(ax, depth, load, "Height of the resultant load on the leg")


def _name_knee(ax: Axes, load: FoundationLoad, person: Person) -> None:
    """Write beside the knee line where the curve is farthest away."""
    knee, last = load.knee, float(load.depth[-1])
    rise = 0.06 * np.ptp(ax.get_ylim())
    clear = {}
    for left, above in itertools.product((True, False), repeat=2):
        near = load.depth < 0.5 * last if left else load.depth > 0.5 * last
        middle = knee + (rise if above else -rise)
        clear[left, above] = float(abs(load.height[near] - middle).min())
    left, above = max(clear, key=lambda place: clear[place])
    ax.text(
        0.02 * last if left else 0.98 * last, knee + (0.2 if above else -0.3) * rise,
        f"knee of {person.name}, \N{PLUS-MINUS SIGN}{load.half_band:g} mm",
        ha="left" if left else "right", va="bottom" if above else "top", fontsize=look.SMALL,
        color=_KNEE, zorder=5.0,
    )  # fmt: skip


def draw_shares(ax: Axes, load: FoundationLoad, depth: float) -> None:
    """Draw the shares of the load below, across and above the knee band over depth."""
    last = float(load.depth[-1])
    base = 0.0 * load.depth
    for name, color, words, ink in _SHARES:
        share = 100.0 * getattr(load, name)
        ax.fill_between(load.depth, base, base + share, color=color, linewidth=0.0, zorder=2.0)
        ax.plot(load.depth, base + share, color=look.PAPER, linewidth=1.0, zorder=3.0)
        # Named where its band is widest, away from the ends and the line of the depth shown.
        inner = (load.depth > 0.22 * last) & (load.depth < 0.78 * last)
        inner &= abs(load.depth - depth) > 0.2 * last
        i = int((share * inner).argmax())
        if share[i] > 12.0:
            ax.text(
                load.depth[i], base[i] + 0.5 * share[i], words, ha="center", va="center",
                fontsize=look.SMALL, color=ink, zorder=7.0,
            )  # fmt: skip
        base = base + share
    ax.set_ylim(0.0, 100.0)
    ax.set_ylabel("share [%]")
    _settle(ax, depth, load, "Share of the load by place on the leg")


_SIZE: Final = (11.7, 8.3)
_BELOW, _ABOVE, _BETWEEN = 0.72, 1.37, 0.66
"""Room for words below and above the drawings, and between the curves [in]."""
_LEFT: Final = (0.055, 0.53)
_RIGHT: Final = (0.665, 0.285)
_BODY: Final = "#cfd4da"
_BODY_RIM: Final = "#9aa2ab"
_LOAD: Final = "#c2571a"
_KNEE_LINE: Final = look.Stroke("#7a2f3b", 1.2, (5.0, 2.0))
# For the drawing only: shoulder and chin as fractions of stature (the book named in people.toml,
# from memory), widths by eye.
_SHOULDER, _CHIN = 0.818, 0.870
_WIDTHS: Final = {"shin": 0.055, "thigh": 0.075, "trunk": 0.11}


@look.styled
def leg_figure(
    lined: LinedFront,
    y: float,
    person: Person,
    depth: float = 60.0,
    figure: Figure | None = None,
    said: str = "",
) -> Figure:
    """Draw one person beside one station, and the legform of the rule set apart.

    Parameters
    ----------
    lined : LinedFront
        The front with its lines; a screening is one.
    y : float
        Station [mm].
    person : Person
        Who stands there.
    depth : float, optional
        How far the front is pushed into the leg [mm].
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.
    said : str, optional
        What is said of the legform, such as in how many draws of stiffness a front is ahead.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Raises
    ------
    KeyError
        If nothing was measured at that station.
    NotAvailableError
        If the contour has nothing at the height of the person.
    ValueError
        If the depth is not positive.

    Examples
    --------
    >>> import frontcheck as fc
    >>> figure = fc.leg_figure(fc.screen(fc.read_front("geometries/plover.csv")), 0, fc.PEOPLE[0])
    """
    station, found = lined.station(y), leg_load(lined, y, person, depth)
    section, figure = lined.front.section(y), figure or look.new_figure(*_SIZE)
    height = figure.get_figheight()
    high = height - _BELOW - _ABOVE
    pitch = (high + _BETWEEN) / 3.5  # the legform has more height than a curve

    def axes(across: tuple[float, float], up: float, tall: float) -> Axes:
        return figure.add_axes((across[0], up / height, across[1], tall / height))

    _draw_side(axes(_LEFT, _BELOW, high), station, section, person, found)
    curves = [axes(_RIGHT, _BELOW + n * pitch, pitch - _BETWEEN) for n in (2.5, 1.5)]
    draw_load_height(curves[0], found.curve, person, depth)
    draw_shares(curves[1], found.curve, depth)
    curves[1].set_xlabel("depth pushed beyond first touch [mm]", labelpad=1.0)
    low = 1.05 if said else 0.55  # room for words
    _draw_legform(axes(_RIGHT, low, 1.5 * pitch + 0.04 - low), section, found, said)
    name = look.printable(lined.front.name, 32)
    title = f"{name} at station {millimetres(y)}: {person.name}; a legform apart"
    caution = textwrap.fill(LEG_CAUTION, 150)
    words = f"Uniform foundation: pressure follows penetration. {legend(person.name)} "
    words += f"{legend('LBRL UBRL')}\nPerson: {_source(person)}."
    look.head(figure, title, left=_LEFT[0], top=0.21)
    figure.text(
        _LEFT[0], 1.0 - 0.49 / height, caution, fontsize=look.TEXT + 1.0, gid="leg caution",
        color=look.INK, fontweight="bold", va="top",
    )  # fmt: skip
    figure.text(
        _LEFT[0], 1.0 - 0.71 / height, words, fontsize=look.TEXT, va="top", color=look.MUTED,
        linespacing=1.35,
    )  # fmt: skip
    look.foot(figure)
    return figure


def _source(person: Person) -> str:
    knee = person.knee
    if knee.from_fraction:
        return f"{person.words}; shares of stature, {knee.provenance}"
    return f"{person.words}; from {knee.source.split(':')[0]}"


def _draw_side(
    ax: Axes, station: Station, section: Section, person: Person, found: LegLoad
) -> None:
    touch = found.met.first.x
    top = max(person.stature.known(), float(section.z[section.x < touch + 500.0].max()))
    box = (touch - 420.0, 0.0, touch + 620.0, top)
    scale = look.fit_limits(ax, box, (0.15, 0.25, 0.1, 0.1))
    drawing = look.Drawing(ax)
    side.draw_ground(drawing, *ax.get_xlim())
    side.draw_contour(drawing, section, 0.05 * scale)
    _draw_person(drawing, person, touch)
    _draw_load(drawing, found, scale)
    knee = person.knee.known()
    drawing.line([(ax.get_xlim()[0], knee), (touch, knee)], _KNEE_LINE, zorder=4.0, gid="knee line")
    _label_body(drawing, person, touch)
    _label_front(drawing, station, found)
    drawing.finish()
    pushed = f"Front pushed {millimetres(float(found.here.depth[0]))} into the leg"
    ax.set_title(f"{pushed}: overlap shaded, to scale", fontsize=look.TEXT + 1.0)
    ax.set(xlabel="setback x [mm]", ylabel="height above ground z [mm]")


def _draw_person(drawing: look.Drawing, person: Person, touch: float) -> None:
    """Links from ankle to head, their faces towards the vehicle on the line of the leg."""
    from matplotlib.patches import Ellipse, FancyBboxPatch, Rectangle

    ax, stature, knee = drawing.ax, person.stature.known(), person.knee.known()
    hip, shoulder, neck = person.hip.known(), _SHOULDER * stature, 0.02 * stature
    centre, head = touch - 0.5 * _WIDTHS["trunk"] * stature, 0.5 * (1.0 + _CHIN) * stature
    body: dict[str, Any] = {"facecolor": _BODY, "edgecolor": _BODY_RIM, "linewidth": 0.8}
    corner = (centre - neck, shoulder - neck)
    ax.add_patch(Rectangle(corner, 2 * neck, head - shoulder, zorder=1.4, **body))
    for name, low, high in (("shin", 0.0, knee), ("thigh", knee, hip), ("trunk", hip, shoulder)):
        width = _WIDTHS[name] * stature
        pad = 0.3 * width
        ax.add_patch(
            FancyBboxPatch(
                (touch - width + pad, low + pad), width - 2 * pad, high - low - 2 * pad,
                boxstyle=f"round,pad={pad}", zorder=1.5, gid=f"link {name}", **body,
            )
        )  # fmt: skip
        drawing.avoid([(touch - width, low), (touch - width, high)])
    turn = np.linspace(0.5 * np.pi, 1.5 * np.pi, 13)
    rim = np.stack([0.0425 * np.cos(turn), 0.5 * (1.0 - _CHIN) * np.sin(turn)], axis=1)
    drawing.avoid(rim * stature + [centre, head])
    size = 0.085 * stature, (1.0 - _CHIN) * stature
    ax.add_patch(Ellipse((centre, head), *size, zorder=1.5, **body))


def _draw_load(drawing: look.Drawing, found: LegLoad, scale: float) -> None:
    """The overlap of front and leg, its bands, and the resultant."""
    touch, load = found.met.first.x, found.here
    depth, height = float(load.depth[0]), float(load.height[0])
    shaded = {"alpha": 0.75, "hatch": "////", "zorder": 5.0, "linewidth": 0.8, "gid": "overlap"}
    for outline, (low, high) in zip(found.overlaps, load.bands[0], strict=True):
        drawing.fill(np.asarray(outline), _LOAD, _LOAD, **shaded)
        drawing.line([(touch, low), (touch, high)], look.Stroke(look.INK, 1.6), zorder=5.5)
        drawing.label(
            f"touched {millimetres(low)} to {millimetres(high)}",
            (touch - 0.5 * depth, 0.5 * (low + high)), prefer=(-1.0, -0.6), rank=2,
            **look.small(_LOAD),
        )  # fmt: skip
    tip, tail = (touch - depth - 0.05 * scale, height), (touch + 0.75 * scale, height)
    arrow = {
        "arrowstyle": "simple,head_length=1.1,head_width=1.1,tail_width=0.3",
        "facecolor": look.INK, "edgecolor": look.PAPER, "linewidth": 0.6,
        "shrinkA": 0.0, "shrinkB": 0.0,
    }  # fmt: skip
    drawing.ax.annotate("", xy=tip, xytext=tail, zorder=7.0, arrowprops=arrow)
    drawing.avoid([tip, tail])
    words = f"resultant at {millimetres(height)}"
    drawing.label(words, tail, prefer=(1.0, 0.0), rank=0, size=look.TEXT + 0.5)


def _label_body(drawing: look.Drawing, person: Person, touch: float) -> None:
    stature = person.stature.known()
    widths = {"ankle": "shin", "knee": "shin", "hip": "thigh"}
    for name, height in person.heights.items():
        z, band = height.value_mm, height.band_mm
        if z is None or name == "stature":
            continue
        at = (touch - 0.5 * _WIDTHS[widths.get(name, "trunk")] * stature, z)
        edge = (touch - 1.15 * _WIDTHS["trunk"] * stature, z)
        if band is None:
            drawing.dot(at, size=5.0)
            told = millimetres(z)
        else:  # nobody knows it better than that
            across = [(at[0], band[0]), (at[0], band[1])]
            drawing.line(across, look.Stroke(look.INK, 3.0), zorder=4.0)
            told = f"{band[0]:.0f} to {millimetres(band[1])}"
        if name != "knee":  # its own line leads there
            drawing.line([edge, at], look.Stroke(look.MUTED, 0.7))
        color = _KNEE_LINE.color if name == "knee" else look.INK
        words = f"{name} {told}" + "*" * height.from_fraction
        drawing.label(words, edge, prefer=(-1.0, 0.0), color=color)
    at = (touch - 0.055 * stature, stature)
    drawing.label(f"stature {millimetres(stature)}", at, prefer=(-1.0, 0.0))
    if any(height.from_fraction for height in person.heights.values()):
        drawing.label("* fraction of stature", None, prefer=(-1.0, -1.0), size=look.SMALL, rank=4)


def _label_front(drawing: look.Drawing, station: Station, found: LegLoad) -> None:
    met = found.met
    touches = [("first", met.first, 0.0)]
    if met.second is not None and met.later_mm is not None:
        touches.append(("next", met.second, met.later_mm))
    for which, touch, later in touches:
        drawing.dot((touch.x, touch.z), size=4.5)
        drawing.label(_touch_words(which, touch, later), (touch.x, touch.z), prefer=(1.0, -0.2))
    for line in (station.LBRL, station.UBRL):
        if line.x is None or line.z is None:
            continue
        color = look.LINE_STYLES[line.name].color
        words = f"{line.name} {millimetres(line.z)}"
        words += side.draw_point(drawing, line, marker="s", size=4.5, color=color)
        drawing.label(words, (line.x, line.z), prefer=(1.0, 0.3), rank=3, **look.small(color))


def _touch_words(which: str, touch: FirstTouch, later: float) -> str:
    side = "above" if touch.above_knee_mm >= 0.0 else "below"
    words = f"{which}: {touch.place}, {millimetres(touch.z)} up,\n"
    words += f"{millimetres(abs(touch.above_knee_mm))} {side} the knee"
    return words + (f", {millimetres(later)} later" if later else "")


def _draw_legform(ax: Axes, section: Section, found: LegLoad, said: str) -> None:
    """The lower legform of the rule set against the same section, or why it is not used."""
    from matplotlib.patches import Rectangle

    legform, at, depth = found.legform, found.legform_touch, float(found.here.depth[0])
    ax.set_title(f"Apart: the {legform.name}, no person", fontsize=look.TEXT + 0.5, loc="left")
    ax.set_axis_off()
    words = found.refused or ("" if at else "the front has nothing at its height")
    words = textwrap.fill(words[:1].upper() + words[1:], 58)
    if words or said:
        ax.text(
            0.0, 0.0 if at else 0.9, textwrap.fill(said, 58) if at else words, gid="said",
            transform=ax.transAxes, fontsize=look.SMALL, va="top", linespacing=1.2,
        )  # fmt: skip
    if at is None:
        return
    box = (at[0] - 120.0, 0.0, at[0] + 250.0, legform.high_mm + 30.0)
    scale = look.fit_limits(ax, box, (1.1, 0.02, 1.3, 0.02))
    drawing = look.Drawing(ax)
    side.draw_contour(drawing, section, 0.05 * scale)
    drawing.line([(x, 0.0) for x in ax.get_xlim()], look.Stroke(look.MUTED, 0.8))
    knee, x = legform.knee_height_mm, at[0] - 70.0
    rim: dict[str, Any] = {"edgecolor": look.INK, "linewidth": 0.7, "gid": "legform"}
    for low, high, color in ((legform.low_mm, knee, _BODY), (knee, legform.high_mm, _BODY_RIM)):
        piece = Rectangle((x, low), 70.0, high - low, facecolor=color, zorder=1.5, **rim)
        ax.add_patch(piece)
        drawing.avoid([(x, low), (x, high)])
    for name, height in (("top", legform.high_mm), ("knee", knee), ("foot", legform.low_mm)):
        color = _KNEE_LINE.color if name == "knee" else look.INK
        words = f"{name} {millimetres(height)}"
        drawing.label(words, (x, height), prefer=(-1.0, 0.0), **look.small(color))
    for low, high in found.legform_bands:
        drawing.line([(at[0], low), (at[0], high)], look.Stroke(_LOAD, 3.0), zorder=5.5)
        words = f"touched {millimetres(low)}\nto {millimetres(high)}, {depth:g} in"
        middle = (at[0], 0.5 * (low + high))
        drawing.label(words, middle, prefer=(-1.0, 0.0), rank=2, **look.small(_LOAD))
    drawing.dot(at, size=4.5)
    drawing.label(f"first touch\n{millimetres(at[1])} up", at, prefer=(1.0, 0.0), size=look.SMALL)
    drawing.finish()
