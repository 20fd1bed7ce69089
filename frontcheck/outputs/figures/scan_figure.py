"""What was found in a scan: plan and side view of its points, those left out in grey."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import foot, head, new_figure, plain_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.geometry.arrays import Array
    from frontcheck.reading.scan.scan import Scan

_SIZE: Final = (11.6, 7.6)
_GREY, _GROUND, _BODY = "#9a9a9a", "#c9b891", "#5f7fa8"
_ROOM_MM: Final = 250.0


def scan_figure(scan: Scan, figure: Figure | None = None) -> Figure:
    """Draw what was found in a scan, from above and from the side.

    Parameters
    ----------
    scan : Scan
        The scan.
    figure : matplotlib.figure.Figure, optional
        An empty figure to draw on; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Examples
    --------
    >>> import frontcheck as fc
    >>> scan = fc.read_scan("geometries/plover-scan.ply", unit="m", stations=[0])
    >>> len(fc.scan_figure(scan).axes)
    2
    """
    with look.house_style():
        figure = new_figure(*_SIZE) if figure is None else figure
        plan = figure.add_axes((0.07, 0.17, 0.40, 0.67))
        side = figure.add_axes((0.56, 0.17, 0.42, 0.67))
        across = float(np.abs(scan.body[:, 1]).max()) + _ROOM_MM
        low, high = (float(end) for end in (scan.body[:, 0].min(), scan.body[:, 0].max()))
        plain_axes(plan, "station y [mm], right positive", "setback x [mm]")
        _cloud(plan, scan, (1, 0))
        for section in scan.front.sections:
            for y in {section.y, -section.y}:
                x = np.array([section.x.min(), section.x.max()])
                plan.plot([y, y], x, color=look.INK, lw=0.7)
        plan.axvline(0.0, color=look.INK, lw=1.2, dashes=(8.0, 2.0, 2.0, 2.0))
        plan.text(0.0, low - 0.8 * _ROOM_MM, "forward", ha="center", va="center",
                  fontsize=look.TEXT)  # fmt: skip
        plan.set(xlim=(-across, across), ylim=(high + _ROOM_MM, low - _ROOM_MM))
        plan.set_aspect("equal", adjustable="box")
        plain_axes(side, "setback x [mm]", "height z [mm]")
        _cloud(side, scan, (0, 2))
        for section in scan.front.sections:
            side.plot(section.x, section.z, color=look.INK, lw=0.8)
        side.axhline(0.0, color=look.INK, lw=1.0)
        side.set(xlim=(low - _ROOM_MM, high + _ROOM_MM), ylim=(-150.0, None))
        side.set_aspect("equal", adjustable="box")
        _keys(side)
        head(
            figure,
            f"{scan.front.name}: what was found in the scan",
            f"Ground {scan.ground_sd_mm:.1f} mm about its plane; "
            f"{100 * scan.mirrored_share:.0f} % of the body has its mirror image; noise "
            f"{scan.noise_mm:.1f} mm; sections uncertain by {scan.u_mm:.1f} mm. "
            f"{scan.left_out} of {scan.points} points were left out.",
            left=0.07,
        )
        foot(figure)
        return figure


def _cloud(ax: Axes, scan: Scan, axes: tuple[int, int]) -> None:
    for points, colour, size in (
        (scan.ground, _GROUND, 0.5),
        (scan.body, _BODY, 0.5),
        (scan.strays, _GREY, 1.2),
    ):
        some: Array = points[:: max(1, len(points) // 8000)]
        # Points as pixels: as shapes they would make a drawing of megabytes.
        ax.scatter(some[:, axes[0]], some[:, axes[1]], s=size, c=colour, lw=0.0, rasterized=True)


def _keys(ax: Axes) -> None:
    handles = [
        look.key(words, color=colour, marker="o", ms=4.0, lw=0.0)
        for colour, words in ((_BODY, "body"), (_GROUND, "ground"), (_GREY, "left out"))
    ]
    handles.append(look.key("sections", color=look.INK, lw=0.8))
    ax.legend(handles=handles, loc="upper left", frameon=False, ncols=2)
