"""Stop distances of a head for a given HIC, against the definition of HIC itself.

HIC is the largest value of (t2 - t1) (mean of a over t1..t2, in g)^2.5 (J. Versace, A
Review of the Severity Index, SAE Technical Paper 710881, 1971, from memory; used in FMVSS 208, UN
GTR 9 and UN R127). The references below compute it by brute force over all
windows of a sampled pulse and share nothing with the closed forms checked.
"""

from __future__ import annotations

import numpy as np
import pytest
from checks import Check, Source

from frontcheck.people.impactors import least_stop_distance, square_pulse_stop_distance

HIC = Check(
    "stop-distance-hic",
    kind="closed form",
    quantity="HIC of the pulse that our stop distance stands for",
    source=Source(
        "A Review of the Severity Index", author="J. Versace", year="1971",
        where="SAE Technical Paper 710881: definition of HIC, by all windows", known="memory",
    ),
    why="rounding over 400 steps",
)  # fmt: skip
BOUND = Check(
    "stop-distance-bound",
    kind="independent method",
    quantity="least way of 27 pulses of that HIC over the bound that none undercuts",
    source=HIC.source,
    why="a bound: never below 1",
)

G = 9.80665


def hic(decelerations: np.ndarray, step: float) -> float:
    """HIC of a pulse of (n,) decelerations [m/s2], each held for `step` [s], all windows."""
    lost = np.concatenate([[0.0], np.cumsum(decelerations * step)])
    best = 0.0
    for width in range(1, len(lost)):
        change = (lost[width:] - lost[:-width]).max()
        best = max(best, width * step * (change / (width * step) / G) ** 2.5)
    return best


def depth(decelerations: np.ndarray, step: float, speed: float) -> float:
    """Way [m] until the pulse has run, from `speed` [m/s], each deceleration held exactly."""
    before = speed - np.concatenate([[0.0], np.cumsum(decelerations * step)])[:-1]
    return float((before * step - 0.5 * decelerations * step**2).sum())


@pytest.mark.parametrize(
    ("speed", "limit", "square"),
    [
        # Derived by hand: v^2 / (2 a g), a = (HIC g / v)^(2/3), g = 9.80665.
        (35.0, 1000.0, 47.915607),
        (40.0, 1000.0, 68.410409),
    ],
)
def test_printed_values(speed: float, limit: float, square: float) -> None:
    assert float(square_pulse_stop_distance(limit, speed)) == pytest.approx(square, abs=5e-7)
    assert float(least_stop_distance(limit, speed)) == pytest.approx(0.75 * square, abs=5e-7)


@pytest.mark.parametrize("limit", [1000.0, 1700.0])
@pytest.mark.parametrize("speed_km_h", [35.0, 40.0])
def test_constant_pulse_over_that_depth_has_that_hic(limit: float, speed_km_h: float) -> None:
    speed = speed_km_h / 3.6
    way = float(square_pulse_stop_distance(limit, speed_km_h)) / 1000.0
    deceleration, duration, n = speed**2 / (2.0 * way), 2.0 * way / speed, 400
    pulse, step = np.full(n, deceleration), duration / n
    assert depth(pulse, step, speed) == pytest.approx(way, rel=1e-12)
    HIC.compare(limit, hic(pulse, step), relative=1e-9)


@pytest.mark.parametrize("limit", [1000.0, 1700.0])
@pytest.mark.parametrize("speed_km_h", [35.0, 40.0])
def test_no_pulse_stops_in_less_than_the_bound(limit: float, speed_km_h: float) -> None:
    """Pulses of any shape, scaled in time until they stop the head at exactly that HIC.

    A pulse a(t) that takes off all the speed in time T has HIC proportional to T^-1.5 when
    stretched in time with its speed loss kept, so the scale follows in one step.
    """
    speed = speed_km_h / 3.6
    bound = float(least_stop_distance(limit, speed_km_h)) / 1000.0
    rng = np.random.default_rng(1)
    n = 120
    t = (np.arange(n) + 0.5) / n
    shapes = [t**-p for p in (0.2, 0.4, 0.6)] + [1.0 - t, t, np.sin(np.pi * t), np.exp(-3.0 * t)]
    shapes += [rng.random(n) ** 4 for _ in range(20)]
    least = np.inf
    for shape in shapes:
        pulse = shape * speed / (shape.sum() / n)
        duration = (hic(pulse, 1.0 / n) / limit) ** (1.0 / 1.5)
        scaled, step = pulse / duration, duration / n
        assert hic(scaled, step) == pytest.approx(limit, rel=1e-9)
        least = min(least, depth(scaled, step, speed))
    BOUND.between(least / bound, 1.0)


@pytest.mark.parametrize("limit", [1000.0, 1700.0])
def test_bound_is_approached(limit: float) -> None:
    """The pulse that loses speed as t^0.6 comes within the sampling error of the bound."""
    speed = 35.0 / 3.6
    bound = float(least_stop_distance(limit, 35.0)) / 1000.0
    excess = []
    for n in (200, 800):
        loss = (np.arange(n + 1) / n) ** 0.6 * speed
        pulse = np.diff(loss) * n
        duration = (hic(pulse, 1.0 / n) / limit) ** (1.0 / 1.5)
        excess.append(depth(pulse / duration, duration / n, speed) / bound - 1.0)
    assert 0.0 < excess[1] < excess[0] / 3.0 < 0.01


def test_directions_of_effect() -> None:
    # A higher limit needs less depth (power -2/3), more speed more (power 8/3).
    assert float(square_pulse_stop_distance(1700.0, 35.0)) == pytest.approx(
        47.915607 * (1.7) ** (-2.0 / 3.0), abs=1e-6
    )
    assert float(square_pulse_stop_distance(1000.0, 40.0)) == pytest.approx(
        47.915607 * (40.0 / 35.0) ** (8.0 / 3.0), abs=1e-6
    )
