"""Pictures of a shape study: lines against lines, where limits are kept, what drives what."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.outputs.figures import canvas as look
from frontcheck.study.study import prefixed

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap
    from matplotlib.figure import Figure
    from matplotlib.gridspec import GridSpec

    from frontcheck.geometry.arrays import Array, Mask
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
_TOTAL: Final = "#c3ccd6"


@look.styled
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
    >>> figure = fc.scatter_matrix(fc.read_results(study, "nose"))
    """
    study = results.study
    y = study.setup.shapes.stations[0] if y is None else y
    limits = [lim for lim in study.limits if lim.station in (None, y)]
    names = list(dict.fromkeys([*_LINES, *(lim.line for lim in limits)]))[:6]
    count, rows = len(names), results.sample
    kept = results.within_all[rows] & bool(study.limits)
    columns = [results.numbers[prefixed(y, name)][rows] for name in names]
    known = ~np.isnan(np.stack(columns)).any(axis=0)
    shown = np.flatnonzero(known)[:_DOTS]
    figure = figure or _wide_figure(1.7 * count + 2.2, 1.6 * count + 1.9)
    for i, j, ax in _matrix(figure, names, below=0.95, right=0.25, above=0.95):
        if i == j:
            _histogram(ax, columns[i][known], kept[known])
        else:
            for chosen, colour, size in ((~kept, _REST, 3.0), (kept, _KEPT, 5.0)):
                at = shown[chosen[shown]]
                x, z = columns[j][at], columns[i][at]
                ax.scatter(x, z, s=size, c=colour, linewidths=0, rasterized=True)
        for limit in limits:
            for end in filter(np.isfinite, (limit.at_least, limit.at_most)):
                if names[j] == limit.line:
                    ax.axvline(end, color=_LIMIT, linewidth=1.0, zorder=3)
                if i != j and names[i] == limit.line:
                    ax.axhline(end, color=_LIMIT, linewidth=1.0, zorder=3)
        for set_limits, of in ((ax.set_xlim, j), (ax.set_ylim, i))[: 1 + (i != j)]:
            if known.any():
                low, high = columns[of][known].min(), columns[of][known].max()
                pad = 0.05 * (high - low) or 1.0
                set_limits(low - pad, high + pad)
        _edge_labels(ax, names, i, j)
    share = f"{int(kept.sum())} of {len(kept)}" if study.limits else "no limits given"
    _titled(
        figure, results, f"lines of {len(kept)} variants",
        f"Station {y:g} mm.  Dark: variants within all limits ({share}); brown lines: limits.",
    )  # fmt: skip
    unknown = int(results.open_ends()[rows].sum())
    said = [f"{unknown} variants left out: an open end could change a line."] if unknown else []
    if len(shown) < int(known.sum()):
        said.append(f"{len(shown)} of {int(known.sum())} variants drawn as dots; histograms: all.")
    _note(figure, " ".join(said))
    look.foot(figure)
    return figure


@look.styled
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
    >>> figure = fc.feasible_region(fc.read_results(study, "nose"))
    """
    study = results.study
    if not study.limits:
        raise NotAvailableError("the study has no limits, so there is no region that keeps them")
    kept, values = results.within_all[results.sample], results.values[results.sample]
    varied, base = study.varied[:_MOST_PARAMETERS], study.setup.shapes.base
    count = len(varied)
    figure = figure or _wide_figure(1.7 * count + 2.4, 1.6 * count + 2.0)
    names = [each.name for each in varied]
    steps = [np.linspace(each.low, each.high, _CELLS + 1) for each in varied]
    mesh = None
    for i, j, ax in _matrix(figure, names, below=1.15, right=0.7, above=1.1):
        if i == j:
            total, good = (np.histogram(v[:, i], steps[i])[0] for v in (values, values[kept]))
            share = np.where(total > 0, good / np.maximum(total, 1), 0.0)
            ax.stairs(share, steps[i], color=_KEPT, fill=True, alpha=0.85)
            ax.set_ylim(0.0, 1.05)
            ax.yaxis.tick_right()
            ax.set_yticks([0.0, 0.5, 1.0], ["0", "50 %", "100 %"])
            ax.axvline(base[j], color=_LIMIT, linewidth=1.2)
        else:
            cells = [steps[j], steps[i]]
            total, good = (
                np.histogram2d(v[:, j], v[:, i], cells)[0] for v in (values, values[kept])
            )
            share = np.ma.masked_where(total == 0.0, good / np.maximum(total, 1.0))
            mesh = ax.pcolormesh(
                *cells, share.T, cmap=_shares(), vmin=0.0, vmax=1.0, rasterized=True
            )
            ax.set_facecolor("#ffffff")  # cells without a variant
            for colour, size, width in (("#ffffff", 7.0, 2.6), (_LIMIT, 6.0, 1.4)):
                ax.plot([base[j]], [base[i]], **look.dots("x", size, colour, width=width))
        ax.set_xlim(steps[j][0], steps[j][-1])
        _edge_labels(ax, names, i, j)
    if mesh is not None:
        width, height = figure.get_size_inches()
        bar = figure.add_axes((1.0 - 3.3 / width, 1.0 - 1.9 / height, 2.4 / width, 0.13 / height))
        figure.colorbar(mesh, cax=bar, orientation="horizontal", ticks=[0.0, 0.25, 0.5, 0.75, 1.0])
        bar.set_xticklabels(["0", "25", "50", "75", "100 %"])
        bar.set_title("share of variants in a cell\nthat keep all limits", fontsize=look.TEXT)
    limits = "; ".join(limit.text.replace(limit.line, spoken(limit.line, unit=False))
                       for limit in study.limits)  # fmt: skip
    _titled(figure, results, "where the limits are kept", f"Kept: {limits}.  Cross: base.")
    look.foot(figure)
    return figure


@look.styled
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
    >>> figure = fc.sensitivity_bars(fc.read_results(study, "bars"))
    """
    found, study = results.sensitivities(), results.study
    usable = [(s, s.first, s.total) for s in found if s.first is not None and s.total is not None]
    if not found:
        raise NotAvailableError("the study asks for no sensitivities")
    if not usable:
        raise NotAvailableError(f"no Sobol indices: {found[0].name}: {found[0].reason}")
    names = [spoken(v.name, unit=False) for v in study.varied]
    per_row = min(3, len(usable))
    deep = -(-len(usable) // per_row)
    panel = 0.34 * len(names) + 0.95
    figure = figure or _wide_figure(2.55 * per_row + 2.0, panel * deep + 1.7)
    rooms = {"left": 1.75, "below": 0.85, "right": 0.3, "above": 1.15}
    tall = figure.get_figheight() - rooms["below"] - rooms["above"] - 0.75 * (deep - 1)
    grid = _grid(figure, deep, per_row, rooms, wspace=0.1, hspace=0.75 * deep / max(tall, 0.1))
    at = np.arange(len(names))[::-1].astype(float)
    for k, (one, first, total) in enumerate(usable):
        ax = figure.add_subplot(grid[k // per_row, k % per_row])
        rim: dict[str, Any] = {"edgecolor": look.MUTED, "linewidth": 0.6}
        ax.barh(at, np.maximum(total, 0.0), 0.72, color=_TOTAL, **rim)
        ax.barh(at, np.maximum(first, 0.0), 0.36, color=_KEPT)
        ax.set_xlim(0.0, 1.12)
        ax.set_xticks([0.0, 0.5, 1.0])
        ax.set_yticks(at, names if k % per_row == 0 else [""] * len(names))
        ax.tick_params(axis="y", length=0.0)
        station, _, line = one.name.partition("_")
        where = f" at y = {station[1:]}" if len(study.setup.shapes.stations) > 1 else ""
        title = f"{spoken(line, unit=False)}{where}\nstandard deviation {one.deviation:.1f} mm"
        ax.set_title(title, fontsize=look.TEXT, loc="left")
        ax.spines[["top", "right"]].set_visible(False)
    words = look.told("sensitivity", samples=study.sensitivity_samples)
    _titled(figure, results, "what moves the lines", words)
    missing = "; ".join(f"{s.name}: {s.reason}" for s in found if s.first is None)
    _note(figure, missing and textwrap.shorten(f"Not given: {missing}", 150))
    look.foot(figure)
    return figure


@look.styled
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
    >>> ax = fc.variant_outlines(fc.read_results(study, "nose"))
    """
    study, shapes = results.study, results.study.setup.shapes
    y = shapes.stations[0] if y is None else y
    good = results.status[results.sample] != "infeasible"
    kept = results.within_all[results.sample] & bool(study.limits)
    if ax is None:
        figure = _wide_figure(9.0, 6.2)
        ax = look.axes_within(figure, 0.7, 0.9, 0.25, 0.95)
        some = "Dark: within all limits." if study.limits else "No limits given."
        words = look.told("shapes", y=y, some=some, most=_OUTLINES)
        _titled(figure, results, "shapes", words, fill=False)
        look.foot(figure)
    for chosen, colour, width in ((good & ~kept, "#a9a294", 0.5), (kept, _KEPT, 0.4)):
        for i in np.flatnonzero(chosen)[:_OUTLINES]:
            points = shapes.front(results.values[i]).section(y).points
            ax.plot(*points.T, color=colour, linewidth=width)
    base = shapes.front(shapes.base).section(y).points
    ax.plot(*base.T, color=_LIMIT, linewidth=2.0, linestyle=(0, (4.0, 1.5)))
    ax.set(aspect="equal", xlabel="x, rearward [mm]", ylabel="z, above ground [mm]")
    return ax


def sweep_figures(results: Results) -> tuple[dict[str, Figure], tuple[str, ...]]:
    """Return all pictures of a study, and why some are not there."""
    shapes = look.figure_of(outlines(results))
    figures, missing = {"lines": scatter_matrix(results), "shapes": shapes}, []
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


def _histogram(ax: Axes, values: Array, kept: Mask) -> None:
    if len(values):
        low, high = float(values.min()), float(values.max())
        steps = np.linspace(low, high if high > low else low + 1.0, 25).tolist()
        ax.hist(values, steps, color=_REST)
        ax.hist(values[kept], steps, color=_KEPT)
        ax.set_yticks([])


def spoken(name: str, unit: bool = True) -> str:
    """Return the name of a number or parameter as words."""
    body, _, tail = name.rpartition("_")
    words = body.replace("_", " ") if body else tail
    return f"{words} [{tail}]" if unit and body else words


def _wide_figure(width: float, height: float) -> Figure:
    """An empty figure, wide enough for head and caution."""
    return look.new_figure(max(width, 7.6), max(height, 3.4))


def _grid(
    figure: Figure, rows: int, columns: int, rooms: Mapping[str, float], **gaps: float
) -> GridSpec:
    """Places for panels with room round all of them [in]."""
    w, h = figure.get_size_inches()
    left, bottom = rooms["left"] / w, rooms["below"] / h
    right, top = 1.0 - rooms["right"] / w, 1.0 - rooms["above"] / h
    return figure.add_gridspec(
        rows, columns, left=left, bottom=bottom, right=right, top=top, **gaps
    )


def _matrix(
    figure: Figure, names: Sequence[str], **rooms: float
) -> Iterator[tuple[int, int, Axes]]:
    """Panels of a matrix, its lower left half: row, column, axes."""
    count = len(names)
    grid = _grid(figure, count, count, {"left": 0.95} | rooms, wspace=0.12, hspace=0.12)
    for i in range(count):
        for j in range(i + 1):
            yield i, j, figure.add_subplot(grid[i, j])


def _edge_labels(ax: Axes, names: Sequence[str], i: int, j: int) -> None:
    """Label a panel of a matrix: ticks and names at its left and lower edge only."""
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator(3, integer=True))
    if i != j:
        ax.yaxis.set_major_locator(MaxNLocator(3, integer=True))
    if i == len(names) - 1:
        ax.set_xlabel(textwrap.fill(spoken(names[j]), 16))
    else:
        ax.set_xticklabels([])
    if j == 0 and i > 0:
        ax.set_ylabel(textwrap.fill(spoken(names[i]), 16))
    elif i != j:
        ax.set_yticklabels([])


def _titled(figure: Figure, results: Results, what: str, words: str, *, fill: bool = True) -> None:
    """Write title and subtitle at the left edge."""
    width = figure.get_figwidth()
    said = textwrap.fill(words, int(width * 13)) if fill else words
    title = f"{look.printable(results.study.name, 60)}: {what}"
    look.head(figure, title, said, left=0.2 / width, top=0.12)


def _note(figure: Figure, text: str) -> None:
    """Write a small note above the caution, if there is one."""
    if text:
        look.write(figure, 0.2, 0.3, text, fontsize=look.SMALL, va="baseline")
