"""Pictures of a shape study: lines against lines, where limits are kept, what drives what."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.sweep_axes import (
    edge_labels,
    frame,
    note,
    spoken,
    styled,
    titled,
    wide_figure,
)
from frontcheck.study.study import prefixed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from frontcheck.study.sweep_results import Results

_DOTS: Final = 2000
"""Most variants drawn as dots: the first of the sample, which spread evenly."""
_LINES: Final = ("LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm")
_MOST_PARAMETERS: Final = 6
_CELLS: Final = 12
_OUTLINES: Final = 20

_KEPT: Final = "#123f6b"
_REST: Final = "#c9c4ba"
_LIMIT: Final = "#8c5a33"
_FIRST: Final = "#123f6b"
_TOTAL: Final = "#c3ccd6"


@styled
def scatter_matrix(
    results: Results, y: float | None = None, figure: Figure | None = None
) -> Figure:
    """Draw every line against every other, variants within the limits marked.

    Parameters
    ----------
    results : Results
        The results.
    y : float, optional
        Station [mm]; the first of the study when not given.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> run = fc.sweep(study, "nose")
    >>> results = fc.read_results(study, "nose")
    >>> figure = fc.scatter_matrix(results)
    """
    study = results.study
    y = study.setup.shapes.stations[0] if y is None else y
    names = list(_LINES)
    names += [lim.line for lim in study.limits if lim.station in (None, y)]
    names = list(dict.fromkeys(names))[:6]
    count = len(names)
    rows = results.sample
    kept = results.within_all[rows] & bool(study.limits)
    columns = [results.numbers[prefixed(y, name)][rows] for name in names]
    known = ~np.isnan(np.stack(columns)).any(axis=0)
    shown = np.flatnonzero(known)[:_DOTS]

    figure = figure or wide_figure(1.7 * count + 2.2, 1.6 * count + 1.9)
    left, bottom, right, top = frame(figure, left=0.95, bottom=0.95, right=0.25, top=0.95)
    grid = figure.add_gridspec(
        count, count, left=left, bottom=bottom, right=right, top=top, wspace=0.12, hspace=0.12
    )
    for i in range(count):
        for j in range(i + 1):
            ax = figure.add_subplot(grid[i, j])
            if i == j:
                _histogram(ax, columns[i][known], kept[known])
            else:
                for chosen, colour, size in ((~kept, _REST, 3.0), (kept, _KEPT, 5.0)):
                    at = shown[chosen[shown]]
                    ax.scatter(
                        columns[j][at], columns[i][at], s=size, c=colour, linewidths=0,
                        rasterized=True,
                    )  # fmt: skip
            _limit_marks(ax, results, names, y, i, j)
            _limits_of(ax, columns[j][known], "x")
            if i != j:
                _limits_of(ax, columns[i][known], "y")
            edge_labels(ax, names, i, j, count)
    share = f"{int(kept.sum())} of {len(kept)}" if study.limits else "no limits given"
    titled(
        figure,
        f"{look.printable(study.name, 60)}: lines of {len(kept)} variants",
        f"Station {y:g} mm.  Dark: variants within all limits ({share}); brown lines: limits.",
    )
    unknown = int(results.open_ends()[rows].sum())
    said = [f"{unknown} variants left out: an open end could change a line."] if unknown else []
    if len(shown) < int(known.sum()):
        said.append(f"{len(shown)} of {int(known.sum())} variants drawn as dots; histograms: all.")
    if said:
        note(figure, " ".join(said))
    look.foot(figure)
    return figure


@styled
def feasible_region(results: Results, figure: Figure | None = None) -> Figure:
    """Draw which share of variants keeps all limits, over every pair of parameters.

    Parameters
    ----------
    results : Results
        The results.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Raises
    ------
    NotAvailableError
        If the study has no limits.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> run = fc.sweep(study, "nose")
    >>> results = fc.read_results(study, "nose")
    >>> figure = fc.feasible_region(results)
    """
    study = results.study
    if not study.limits:
        raise NotAvailableError("the study has no limits, so there is no region that keeps them")
    rows = results.sample
    kept, values = results.within_all[rows], results.values[rows]
    chosen = list(range(min(len(study.varied), _MOST_PARAMETERS)))
    count = len(chosen)
    figure = figure or wide_figure(1.7 * count + 2.4, 1.6 * count + 2.0)
    left, bottom, right, top = frame(figure, left=0.95, bottom=1.15, right=0.7, top=1.1)
    grid = figure.add_gridspec(
        count, count, left=left, bottom=bottom, right=right, top=top, wspace=0.12, hspace=0.12
    )
    names = [study.varied[k].name for k in chosen]
    steps = [np.linspace(study.varied[k].low, study.varied[k].high, _CELLS + 1) for k in chosen]
    mesh = None
    for i in range(count):
        for j in range(i + 1):
            ax = figure.add_subplot(grid[i, j])
            if i == j:
                share, _ = _share_along(values[:, i], kept, steps[i])
                ax.stairs(np.nan_to_num(share), steps[i], color=_KEPT, fill=True, alpha=0.85)
                ax.set_ylim(0.0, 1.05)
                ax.set_yticks([0.0, 0.5, 1.0])
                ax.yaxis.tick_right()
                ax.set_yticklabels(["0", "50 %", "100 %"])
            else:
                total = np.histogram2d(values[:, j], values[:, i], [steps[j], steps[i]])[0]
                good = np.histogram2d(values[kept, j], values[kept, i], [steps[j], steps[i]])[0]
                share = np.ma.masked_where(total == 0.0, good / np.maximum(total, 1.0))
                mesh = ax.pcolormesh(
                    steps[j], steps[i], share.T, cmap=_shares(), vmin=0.0, vmax=1.0,
                    rasterized=True,
                )  # fmt: skip
                ax.set_facecolor("#ffffff")  # cells without a variant
            ax.set_xlim(steps[j][0], steps[j][-1])
            _base_mark(ax, results, chosen[i], chosen[j], diagonal=i == j)
            edge_labels(ax, names, i, j, count)
    if mesh is not None:
        width, height = figure.get_size_inches()
        bar = figure.add_axes((1.0 - 3.3 / width, 1.0 - 1.9 / height, 2.4 / width, 0.13 / height))
        figure.colorbar(mesh, cax=bar, orientation="horizontal", ticks=[0.0, 0.25, 0.5, 0.75, 1.0])
        bar.set_xticklabels(["0", "25", "50", "75", "100 %"])
        bar.set_title("share of variants in a cell\nthat keep all limits", fontsize=look.TEXT)
    limits = "; ".join(limit.text.replace(limit.line, spoken(limit.line, unit=False))
                       for limit in study.limits)  # fmt: skip
    titled(
        figure,
        f"{look.printable(study.name, 60)}: where the limits are kept",
        textwrap.fill(f"Kept: {limits}.  Cross: base.", int(figure.get_figwidth() * 13)),
    )
    look.foot(figure)
    return figure


@styled
def sensitivity_bars(results: Results, figure: Figure | None = None) -> Figure:
    """Draw the Sobol indices: what share of a line's variance each parameter brings.

    Parameters
    ----------
    results : Results
        The results.
    figure : matplotlib.figure.Figure, optional
        Where to draw; a new one when not given.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.

    Raises
    ------
    NotAvailableError
        If the study asks for no indices, or none can be given; the message says why.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=16)
    >>> run = fc.sweep(study, "bars")
    >>> results = fc.read_results(study, "bars")
    >>> figure = fc.sensitivity_bars(results)
    """
    found = results.sensitivities()
    usable = [s for s in found if s.first is not None and s.total is not None]
    if not found:
        raise NotAvailableError("the study asks for no sensitivities")
    if not usable:
        raise NotAvailableError(f"no Sobol indices: {found[0].name}: {found[0].reason}")
    study = results.study
    names = [spoken(v.name, unit=False) for v in study.varied]
    per_row = min(3, len(usable))
    deep = -(-len(usable) // per_row)
    panel = 0.34 * len(names) + 0.95
    figure = figure or wide_figure(2.55 * per_row + 2.0, panel * deep + 1.7)
    left, bottom, right, top = frame(figure, left=1.75, bottom=0.85, right=0.3, top=1.15)
    grid = figure.add_gridspec(
        deep, per_row, left=left, bottom=bottom, right=right, top=top, wspace=0.1,
        hspace=0.85 / panel,
    )  # fmt: skip
    at = np.arange(len(names))[::-1].astype(float)
    for k, one in enumerate(usable):
        ax = figure.add_subplot(grid[k // per_row, k % per_row])
        assert one.first is not None
        assert one.total is not None
        ax.barh(at, np.maximum(one.total, 0.0), 0.72, color=_TOTAL, edgecolor=look.MUTED,
                linewidth=0.6)  # fmt: skip
        ax.barh(at, np.maximum(one.first, 0.0), 0.36, color=_FIRST)
        ax.set_xlim(0.0, 1.12)
        ax.set_xticks([0.0, 0.5, 1.0])
        ax.set_yticks(at, names if k % per_row == 0 else [""] * len(names))
        ax.tick_params(axis="y", length=0.0)
        station, _, line = one.name.partition("_")
        where = f" at y = {station[1:]}" if len(study.setup.shapes.stations) > 1 else ""
        ax.set_title(
            f"{spoken(line, unit=False)}{where}\nstandard deviation {one.deviation:.1f} mm",
            fontsize=look.TEXT, loc="left",
        )  # fmt: skip
        ax.spines[["top", "right"]].set_visible(False)
    titled(
        figure,
        f"{look.printable(study.name, 60)}: what moves the lines",
        textwrap.fill(
            "Sobol indices over the ranges of the study. Dark, narrow: first order (alone). "
            f"Light, wide: total (with all its interactions). {study.sensitivity_samples} base "
            "samples.",
            int(figure.get_figwidth() * 13),
        ),
    )
    missing = [s for s in found if s.first is None]
    if missing:
        text = "; ".join(f"{s.name}: {s.reason}" for s in missing)
        note(figure, textwrap.shorten(f"Not given: {text}", 150))
    look.foot(figure)
    return figure


@styled
def outlines(results: Results, y: float | None = None, ax: Axes | None = None) -> Axes:
    """Draw the shapes: base, and the first variants within and outside the limits.

    Parameters
    ----------
    results : Results
        The results.
    y : float, optional
        Station [mm]; the first of the study when not given.
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure when not given.

    Returns
    -------
    matplotlib.axes.Axes
        The axes.

    Examples
    --------
    >>> import frontcheck as fc
    >>> from dataclasses import replace
    >>> study = fc.read_study("geometries/nose-study.toml")
    >>> study = replace(study, sample=study.sample[:32], sensitivity_samples=0)
    >>> run = fc.sweep(study, "nose")
    >>> results = fc.read_results(study, "nose")
    >>> ax = fc.variant_outlines(results)
    """
    study = results.study
    shapes = study.setup.shapes
    y = shapes.stations[0] if y is None else y
    rows = results.sample
    good = results.status[rows] != "infeasible"
    kept = results.within_all[rows] & bool(study.limits)
    if ax is None:
        figure = wide_figure(9.0, 6.2)
        box = frame(figure, left=0.7, bottom=0.9, right=0.25, top=0.95)
        ax = figure.add_axes((box[0], box[1], box[2] - box[0], box[3] - box[1]))
        some = "Dark: within all limits." if study.limits else "No limits given."
        titled(
            figure,
            f"{look.printable(study.name, 60)}: shapes",
            f"Station {y:g} mm, to scale, front of the vehicle on the left.  Brown, dashed: base.  "
            f"{some}  At most {_OUTLINES} of each kind.",
        )
        look.foot(figure)
    for chosen, colour, width in ((good & ~kept, "#a9a294", 0.5), (kept, _KEPT, 0.4)):
        for i in np.flatnonzero(chosen)[:_OUTLINES]:
            points = shapes.front(results.values[i]).section(y).points
            ax.plot(points[:, 0], points[:, 1], color=colour, linewidth=width)
    base = shapes.front(shapes.base).section(y).points
    ax.plot(base[:, 0], base[:, 1], color=_LIMIT, linewidth=2.0, linestyle=(0, (4.0, 1.5)))
    ax.set_aspect("equal")
    ax.set_xlabel("x, rearward [mm]")
    ax.set_ylabel("z, above ground [mm]")
    return ax


def sweep_figures(results: Results) -> tuple[dict[str, Figure], tuple[str, ...]]:
    """Return all pictures of a study, and why some are not there."""
    from matplotlib.figure import Figure

    figures, missing = {}, []
    figures["lines"] = scatter_matrix(results)
    shapes = outlines(results).get_figure(root=True)
    assert isinstance(shapes, Figure)
    figures["shapes"] = shapes
    for name, draw in (("region", feasible_region), ("sensitivity", sensitivity_bars)):
        try:
            figures[name] = draw(results)
        except NotAvailableError as error:
            missing.append(f"{name}: {error}")
    return figures, tuple(missing)


def _shares() -> Colormap:
    """From nearly white to dark blue: also plain in grey."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("share", ["#f4f1ea", "#8fa9bf", _KEPT])


def _histogram(ax: Axes, values: NDArray[np.float64], kept: NDArray[np.bool_]) -> None:
    if len(values) == 0:
        return
    low, high = float(values.min()), float(values.max())
    steps = np.linspace(low, high if high > low else low + 1.0, 25)
    ax.hist(values, steps.tolist(), color=_REST)
    ax.hist(values[kept], steps.tolist(), color=_KEPT)
    ax.set_yticks([])


def _limits_of(ax: Axes, values: NDArray[np.float64], axis: str) -> None:
    if len(values) == 0:
        return
    low, high = float(values.min()), float(values.max())
    pad = 0.05 * (high - low) or 1.0
    (ax.set_xlim if axis == "x" else ax.set_ylim)(low - pad, high + pad)


def _limit_marks(ax: Axes, results: Results, names: list[str], y: float, i: int, j: int) -> None:
    for limit in results.study.limits:
        if limit.station not in (None, y):
            continue
        for at in (limit.at_least, limit.at_most):
            if not np.isfinite(at):
                continue
            if names[j] == limit.line:
                ax.axvline(at, color=_LIMIT, linewidth=1.0, zorder=3)
            if i != j and names[i] == limit.line:
                ax.axhline(at, color=_LIMIT, linewidth=1.0, zorder=3)


def _base_mark(ax: Axes, results: Results, i: int, j: int, *, diagonal: bool) -> None:
    base = results.study.setup.shapes.base
    if diagonal:
        ax.axvline(base[j], color=_LIMIT, linewidth=1.2)
    else:
        ax.plot([base[j]], [base[i]], "x", color="#ffffff", markersize=7.0, markeredgewidth=2.6)
        ax.plot([base[j]], [base[i]], "x", color=_LIMIT, markersize=6.0, markeredgewidth=1.4)


def _share_along(
    values: NDArray[np.float64], kept: NDArray[np.bool_], steps: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    total = np.histogram(values, steps)[0].astype(float)
    good = np.histogram(values[kept], steps)[0].astype(float)
    return np.where(total > 0.0, good / np.maximum(total, 1.0), np.nan), total
