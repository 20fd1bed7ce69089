"""Curves of the leg figure over depth: load height, shares of the load, opening rate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.outputs.figures import style as look
from frontcheck.people.impactors import RIGID_LEGFORM

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from frontcheck.legs.foundation import FoundationLoad, KneeResponse
    from frontcheck.people.people import Person

__all__ = ["draw_knee_rate", "draw_load_height", "draw_shares"]

_KNEE: Final = "#7a2f3b"
_BAND: Final = "#ead9dc"
_STAYS: Final = 0.2
"""Within this share of a blow at the knee the knee is said to stay."""
_SHARES: Final = (
    ("below", "#3d7068", "below the knee band", "white"),
    ("across", "#e6d9b8", "across it", look.INK),
    ("above", "#8c5a33", "above it", "white"),
)


def _settle(ax: Axes, depth: float, last: float, title: str) -> None:
    ax.axvline(depth, color=look.INK, linewidth=0.9, linestyle=(0, (2.0, 2.0)), zorder=6.0)
    ax.set_xlim(0.0, last)
    ax.set_title(title, fontsize=look.TEXT + 0.5, loc="left")
    ax.tick_params(length=3.0)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def draw_load_height(ax: Axes, load: FoundationLoad, person: Person, depth: float) -> None:
    """Draw the height of the resultant over depth, with the knee band."""
    knee, half = load.knee, load.half_band
    last = float(load.depth[-1])
    ax.axhspan(knee - half, knee + half, color=_BAND, zorder=0.5)
    ax.axhline(knee, color=_KNEE, linewidth=1.2, linestyle=(0, (5.0, 2.0)), zorder=2.0)
    ax.plot(load.depth, load.height, color=look.INK, linewidth=2.2, zorder=4.0)
    low = min(float(load.height.min()), knee - half) - 60.0
    high = max(float(load.height.max()), knee + half) + 60.0
    ax.set_ylim(low, high)
    _name_knee(ax, load, person)
    ax.set_ylabel("z [mm]")
    _settle(ax, depth, last, "Height of the resultant load on the leg")


def _name_knee(ax: Axes, load: FoundationLoad, person: Person) -> None:
    """Write beside the knee line where the curve is farthest away."""
    knee, last = load.knee, float(load.depth[-1])
    low, high = ax.get_ylim()
    rise = 0.06 * (high - low)
    best, chosen = -1.0, (True, True)
    for left in (True, False):
        near = load.depth < 0.5 * last if left else load.depth > 0.5 * last
        for above in (True, False):
            middle = knee + (rise if above else -rise)
            clear = float(abs(load.height[near] - middle).min())
            if clear > best:
                best, chosen = clear, (left, above)
    left, above = chosen
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
    _settle(ax, depth, last, "Share of the load by place on the leg")


def draw_knee_rate(ax: Axes, response: KneeResponse, depth: float) -> None:
    """Draw the opening rate of the legform's knee over depth."""
    last = float(response.depth[-1])
    most = response.blow_at_knee
    ax.axhspan(-_STAYS * most, _STAYS * most, color="#e3e6ea", zorder=0.5)
    ax.axhline(0.0, color=look.MUTED, linewidth=0.8, zorder=1.0)
    ax.axhline(most, color=_KNEE, linewidth=1.0, linestyle=(0, (5.0, 2.0)), zorder=2.0)
    ax.plot(response.depth, response.rate, color=look.INK, linewidth=2.2, zorder=4.0)
    low = min(float(response.rate.min()), -0.75)
    ax.set_ylim(low - 0.15, most + 0.35)
    ax.text(
        0.985 * last, most + 0.04, "a blow at the knee", ha="right", va="bottom",
        fontsize=look.SMALL, color=_KNEE, zorder=5.0,
    )  # fmt: skip
    # Beside the axes, where no curve runs.
    for height, words in (((1.0 + _STAYS) * most / 2.0, "opens"), (0.0, "stays"),
                          (-0.32 * most, "closes")):  # fmt: skip
        ax.text(
            1.015 * last, height, words, ha="left", va="center", fontsize=look.SMALL,
            color=look.INK, fontstyle="italic", clip_on=False,
        )  # fmt: skip
    ax.set_ylabel("rad/s per N s")
    knee = RIGID_LEGFORM.knee_height_mm
    _settle(ax, depth, last, f"Opening rate of the rigid legform's knee ({knee:g} mm high)")
