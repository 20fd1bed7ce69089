"""Targets: the least change of a shape that keeps chosen limits, or a proof that none does."""

from frontcheck.targets.bounds import Bound, bound
from frontcheck.targets.solve import LineChange, Solution, solve

__all__ = ["Bound", "LineChange", "Solution", "bound", "solve"]
