"""Places of chains: which are taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.geometry.seen import SAME_MM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.chains import Chain


class Places:
    """Which places of every chain are walked already."""

    def __init__(self, chains: Sequence[Chain]) -> None:
        self.size = [len(c.points) if c.closed else 0 for c in chains]
        self.places: dict[int, list[tuple[float, float]]] = {}

    def add(self, chain: int, begin: float, end: float) -> None:
        """Take places as walked."""
        self.places.setdefault(chain, []).append((min(begin, end), max(begin, end)))

    def holds(self, chain: int, begin: float, end: float) -> bool:
        """Whether any of these places is walked already."""
        low, high = min(begin, end), max(begin, end)
        turns = (-2, -1, 0, 1, 2) if self.size[chain] else (0,)
        return any(
            min(high, b + k * self.size[chain]) - max(low, a + k * self.size[chain]) > SAME_MM
            for a, b in self.places.get(chain, ())
            for k in turns
        )
