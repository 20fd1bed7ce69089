"""What a leg sees of contours that fold behind themselves, against every stretch held by itself.

Heights and setbacks are made up; the plain way is to cut every stretch at every height.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.errors import NotAvailableError
from frontcheck.legs.contact import silhouette_of
from frontcheck.legs.foundation import contact_bands, foundation_load, knee_response
from frontcheck.legs.person_leg import person_leg
from frontcheck.people.people import person_of_stature

FOLDED = {
    # A face that leans back, a flange behind its foot; the flange is never seen.
    "flange below": [(40, 200), (40, 110), (0, 100), (100, 600), (900, 700)],
    "flange at the top": [
        (300, 90), (100, 100), (0, 600), (0, 605), (90, 605), (90, 500), (95, 500), (95, 640),
        (900, 700),
    ],
    # A hook whose tip stands ahead of a face that leans forward, over half of its height.
    "hook": [(60, 300), (60, 120), (50, 120), (50, 310), (130, 320), (40, 600), (900, 700)],
    # A shelf over a hollow: below it the back wall is seen, ahead of it the shelf.
    "shelf": [(300, 100), (200, 120), (250, 400), (20, 410), (20, 440), (400, 450), (900, 900)],
    "plumb twice": [(90, 100), (30, 100), (30, 300), (10, 310), (10, 500), (900, 700)],
    "lip hangs": [(120, 400), (100, 150), (80, 150), (100, 420), (30, 430), (60, 600), (900, 800)],
}  # fmt: skip


def foremost(points, height: float) -> tuple[float, set[int]]:
    """Least setback of all stretches at a height, and which have it."""
    found = []
    for i, ((x0, z0), (x1, z1)) in enumerate(zip(points, points[1:], strict=False)):
        if min(z0, z1) < height < max(z0, z1):
            found.append((x0 + (height - z0) / (z1 - z0) * (x1 - x0), i))
    least = min(x for x, _ in found)
    return least, {i for x, i in found if x - least < 1e-9}


@pytest.mark.parametrize("name", FOLDED)
@pytest.mark.parametrize("turned", [False, True], ids=["as it is", "upside down"])
def test_the_foremost_stretch_is_seen_at_every_height(name: str, turned: bool) -> None:
    points = FOLDED[name]
    if turned:  # and walked the other way, so that the air stays on its left
        points = [(x, 1000 - z) for x, z in reversed(points)]
    try:
        section = fc.Section(points, 0.0, [f"{p}" for p in [""] * len(points)])
    except fc.ContourError:
        pytest.skip("no contour the other way up")
    seen = silhouette_of(section, 0.0, 1000.0)
    # Between heights at which a stretch ends nothing changes but along straight lines.
    levels = sorted({z for _, z in points})
    assert sum((high - low) for low, high in seen.z.tolist()) == pytest.approx(
        levels[-1] - levels[0]
    )
    for low, high in zip(levels, levels[1:], strict=False):
        for share in (0.03, 0.5, 0.97):
            z = low + share * (high - low)
            x, those = foremost(section.points.tolist(), z)
            (i,) = np.flatnonzero((seen.z[:, 0] <= z) & (z < seen.z[:, 1])).tolist()
            (z0, z1), (x0, x1) = seen.z[i], seen.x[i]
            assert x0 + (z - z0) / (z1 - z0) * (x1 - x0) == pytest.approx(x)
            assert seen.stretch[i] in those
            assert section.foremost_at(z) == pytest.approx(x)


def test_where_two_stretches_lie_over_one_another_the_first_is_told() -> None:
    """A flange folded flat against the face: its own stretch comes first."""
    section = fc.Section([(0, 100), (0, 300), (10, 500), (900, 700)], parts=["bumper", "grille", "",
                         "bonnet"])  # fmt: skip
    seen = silhouette_of(section, 150.0, 600.0)
    assert seen.stretch.tolist() == [0, 1, 2]
    assert seen.parts == ("bumper", "grille", "")
    assert (seen.low, seen.high) == (150.0, 600.0)
    assert silhouette_of(fc.Section(section.points), 0.0, 700.0).parts == ("", "", "")


@pytest.mark.parametrize(("low", "high"), [(300.0, 300.0), (300.0, 299.0), (1000.0, 75.0)])
def test_a_leg_without_a_length_is_refused(low: float, high: float) -> None:
    section = fc.Section(FOLDED["shelf"])
    with pytest.raises(ValueError, match="leg must have a length") as told:
        silhouette_of(section, low, high)
    assert str(told.value) == f"the leg must have a length; it goes from {low:g} to {high:g} mm"
    with pytest.raises(NotAvailableError) as gone:
        silhouette_of(fc.Section(section.points, 120.0), 10.0, 99.0)
    assert str(gone.value) == "the section at y = 120 mm has nothing between 10 and 99 mm"


def test_what_a_depth_and_a_knee_band_must_be_in_words() -> None:
    seen = silhouette_of(fc.Section(FOLDED["shelf"]), 0.0, 900.0)
    for half in (0.0, -3.5):
        with pytest.raises(ValueError, match="knee band") as told:
            foundation_load(seen, 20.0, 480.0, half)
        assert str(told.value) == f"the knee band must have a height; half of it is {half:g} mm"
    for wrong in (0.0, [[20.0, 30.0]], [20.0, np.inf]):
        with pytest.raises(ValueError, match="a depth must be a positive number of mm"):
            foundation_load(seen, wrong, 480.0)


@pytest.mark.parametrize("name", FOLDED)
def test_loads_and_bands_over_folds_are_sums_over_heights(name: str) -> None:
    """Penetration at every hair of height, by all stretches; bands are where there is any."""
    points = FOLDED[name]
    seen = silhouette_of(fc.Section(points), 0.0, 1000.0)
    step = 0.25
    heights = np.arange(step / 2.0 + 0.01, 1000.0, step)
    least = np.full(len(heights), np.inf)
    for (x0, z0), (x1, z1) in zip(points, points[1:], strict=False):
        if z0 != z1:
            x = x0 + (heights - z0) / (z1 - z0) * (x1 - x0)
            within = (heights > min(z0, z1)) & (heights < max(z0, z1))
            least = np.where(within, np.minimum(least, x), least)
    for depth in (9.0, 45.0, 120.0):
        pressed = np.maximum(depth - (least - seen.foremost_x), 0.0)
        found = foundation_load(seen, depth, 350.0)
        assert found.load[0] == pytest.approx(pressed.sum() * step, rel=0.02)
        assert found.height[0] == pytest.approx((pressed * heights).sum() / pressed.sum(), abs=1.5)
        bands = contact_bands(seen, depth)
        assert bands == found.bands[0]
        for z, push in zip(heights[::7], pressed[::7], strict=True):
            if min(abs(z - end) for band in bands for end in band) > 0.5:
                assert any(low < z < high for low, high in bands) == (push > 0.0)


@pytest.mark.parametrize(
    ("share", "word"),
    [(0.201, "opens"), (0.199, "stays"), (-0.199, "stays"), (-0.201, "closes")],
)
def test_what_the_knee_does_in_a_word(share: float, word: str) -> None:
    """Own choice: within a fifth of a blow at the knee it stays."""
    response = knee_response(fc.Section(FOLDED["shelf"]), [20.0, 60.0])
    made = replace(response, rate=np.array([9.0, share * 2.5]), blow_at_knee=2.5)
    assert made.sense(1) == word
    assert made.sense(0) == "opens"
    exact = replace(response, rate=np.array([0.5, -0.5]), blow_at_knee=2.0)
    assert [exact.sense(i, 0.25) for i in (0, 1)] == ["stays", "stays"]


def test_of_several_lips_the_one_nearest_to_the_first_touch_comes_next() -> None:
    """Three lips 0, 30 and 90 mm back, with a hollow between any two: the soonest is next."""
    lips = [(0, 650), (30, 450), (90, 250)]
    face = [(300, 200), lips[2], (110, 350), lips[1], (60, 550), lips[0], (120, 750), (900, 950)]
    man = person_of_stature(1755.0)
    met = person_leg(fc.Section(face), man)
    assert (met.first.x, met.first.z) == lips[0]
    assert (met.second.x, met.second.z, met.later_mm) == (30.0, 450.0, 30.0)
    mirror = [(300, 150), (0, 250), (60, 350), (30, 450), (110, 550), (90, 650), (900, 950)]
    low = person_leg(fc.Section(mirror), man)
    assert (low.second.x, low.second.z, low.later_mm) == (30.0, 450.0, 30.0)


@pytest.mark.parametrize("up", [-300.0, -50.0, 60.0, 150.0, 350.0])
def test_a_load_symmetric_about_a_height_is_a_blow_there(up: float) -> None:
    """Momentum of two hinged bodies, written out; data of the rigid legform are from memory.

    Either side of the knee, 519 mm up: 50 mm below it 1.410576 rad/s a N s comes out."""
    m1, m2, c1, c2, i1, i2 = 8.6, 4.8, 0.217, 0.233, 0.127, 0.120
    mass = [[m1 + m2, m1 * c1, -m2 * c2], [m1 * c1, i1 + m1 * c1**2, 0.0],
            [-m2 * c2, 0.0, i2 + m2 * c2**2]]  # fmt: skip
    _, femur, tibia = np.linalg.solve(mass, [1.0, max(up, 0.0) / 1e3, min(up, 0.0) / 1e3])
    low, high = 519.0 + up - 40.0, 519.0 + up + 40.0
    face = fc.Section([(2000, low), (0, low), (0, high), (2000, high), (2500, high + 500.0)])
    found = knee_response(face, [30.0])
    assert found.rate[0] == pytest.approx(tibia - femur)
    assert found.height[0] == pytest.approx(519.0 + up)
    if up == -50.0:
        assert tibia - femur == pytest.approx(1.410576, abs=1e-6)
