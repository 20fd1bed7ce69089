"""How sure a share is that was counted in drawn cases."""

from __future__ import annotations

from typing import Final

LEVEL: Final = 0.95
"""How sure a lower limit is: common practice, no source."""
ROBUST_SHARE: Final = 0.85
"""Own choice: what holds in so many cases hardly hangs on what was assumed."""
ROBUST_CASES: Final = 200
"""Own choice: so many cases make a count in 100 sure to some 3 either way."""


def least_share(count: int, of: int) -> float:
    """Return the exact lower 95 % limit of a share of which some cases were counted."""
    # C. J. Clopper and E. S. Pearson, The use of confidence or fiducial limits illustrated in the
    # case of the binomial, Biometrika 26 (4), 404-413, 1934 (from memory).
    if count == 0:
        return 0.0
    from scipy.special import betaincinv  # here: the command line must start fast

    return float(betaincinv(count, of - count + 1, 1.0 - LEVEL))


def is_robust(count: int, of: int) -> bool:
    """Whether the lower limit of a share of cases enough reaches `ROBUST_SHARE`."""
    return of >= ROBUST_CASES and least_share(count, of) >= ROBUST_SHARE
