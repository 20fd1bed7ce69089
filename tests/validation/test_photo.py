"""Side photos against an exact pinhole camera and the homography of an independent library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from skimage.transform import ProjectiveTransform

import frontcheck as fc
from frontcheck.reading.photo import board_grid, homography, through

# A smooth nose: an ellipse of half axes 400 and 350 about (400, 600) for face and leading edge.
ANGLES = np.radians(np.linspace(-30.0, 80.0, 12))
NOSE = np.column_stack([400.0 - 400.0 * np.cos(ANGLES), 600.0 + 350.0 * np.sin(ANGLES)])
TANGENT = np.column_stack([400.0 * np.sin(ANGLES), 350.0 * np.cos(ANGLES)])
FLAT = 1e15


def camera(points, at, yaw=0.0, tilt=0.0, roll=0.0, px_mm=1.7):
    """Pixels of points in space; the camera looks along +y, one pixel is px_mm in the plane."""
    ray = np.atleast_2d(points) - at
    right, ahead, up = ray.T
    for angle, one in ((yaw, "yaw"), (tilt, "tilt"), (roll, "roll")):
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        if one == "yaw":
            right, ahead = c * right - s * ahead, s * right + c * ahead
        elif one == "tilt":
            ahead, up = c * ahead - s * up, s * ahead + c * up
        else:
            right, up = c * right - s * up, s * right + c * up
    focal = -at[1] / px_mm
    return np.column_stack([2000.0 + focal * right / ahead, 1500.0 - focal * up / ahead])


def silhouette(at, R, Rc):
    """Points where rays from the camera graze x += y^2 / 2R, z -= y^2 / 2Rc."""
    found = []
    for (x, z), (tx, tz) in zip(NOSE, TANGENT, strict=True):

        def grazed(y, x=x, z=z, tx=tx, tz=tz):
            point = np.array([x + y * y / (2 * R), y, z - y * y / (2 * Rc)])
            return np.array([-tz, y * (tz / R + tx / Rc), tx]) @ (at - point)

        y = brentq(grazed, -900.0, 900.0) if R < FLAT else 0.0
        found.append([x + y * y / (2 * R), y, z - y * y / (2 * Rc)])
    return np.array(found)


def photo(
    d=5000.0,
    a=0.0,
    b=0.0,
    board=800.0,
    off=0.0,
    R=FLAT,
    Rc=FLAT,
    ground_off=0.0,
    at_x=100.0,
    **turn,
):
    at = np.array([a, -d, NOSE[:, 1].max() + b])
    flat = [(at_x, 0), (at_x + board, 0), (at_x + board, board), (at_x, board)]
    corners = camera([(x, off, z) for x, z in flat], at, **turn)
    ground = camera([(-50, ground_off, 0), (1000, ground_off, 0)], at, **turn)
    return fc.PhotoClicks(
        ground=tuple(map(tuple, ground)),
        corners=tuple(map(tuple, corners)),
        board_mm=(board, board),
        outline=tuple(map(tuple, camera(silhouette(at, R, Rc), at, **turn))),
        distance_mm=d,
        behind_mm=a,
        above_mm=b,
        board_u_mm=0.0,
        off_plane_mm=0.0,
        plan_radius_mm=R if R < FLAT else 1e-3,  # a flat front is seen where it is
        crown_radius_mm=Rc if Rc < FLAT else 1e-3,
    )


def points(clicks):
    return fc.front_from_photo(clicks).section(0).points


def test_homography_is_that_of_an_independent_library():
    rng = np.random.default_rng(1)
    square = np.array([[0.0, 0.0], [700, 0], [700, 600], [0, 600]])
    for _ in range(20):
        seen = square + rng.normal(0.0, 60.0, (4, 2)) + 500.0
        theirs = ProjectiveTransform.from_estimate(seen, square)
        ours = homography(seen, square)
        assert ours == pytest.approx(theirs.params / theirs.params[2, 2], rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    "turn", [{}, {"yaw": 8.0}, {"tilt": -6.0}, {"roll": 3.0}, {"yaw": -5.0, "tilt": 4.0}]
)
def test_exact_photo_gives_the_nose_back(turn):
    assert points(photo(b=400.0, a=300.0, **turn)) == pytest.approx(NOSE, abs=1e-6)


def test_vehicle_facing_right_gives_the_same():
    clicks = photo(yaw=5.0)

    def flip(clicked):
        return tuple((4000.0 - c, r) for c, r in clicked)

    one, two, three, four = flip(clicks.corners)
    other = replace(
        clicks,
        ground=flip(clicks.ground),
        outline=flip(clicks.outline),
        corners=(two, one, four, three),
    )
    assert points(other) == pytest.approx(NOSE, abs=1e-6)


@pytest.mark.parametrize(("a", "d", "e"), [(300.0, 5000.0, 4.68), (300.0, 10_000.0, 1.17)])
def test_outline_of_a_curved_front_stands_off_as_said(a, d, e):
    # e = a^2 R / (2 d^2); at the upright stretch, seen where the section turns back: x only.
    clicks = photo(a=a, d=d, R=2600.0, Rc=6500.0)
    seen = through(
        homography(
            np.array(clicks.corners), np.array([[100, 0], [900, 0], [900, 800], [100, 800]])
        ),
        np.array(clicks.outline),
    )
    nearest = int(np.argmin(NOSE[:, 0]))
    assert NOSE[nearest, 0] - seen[nearest, 0] == pytest.approx(e, rel=0.25)
    said = fc.front_from_photo(replace(clicks, click_px=1e-6)).section(0)
    assert said.setback_u[nearest] == pytest.approx(e, rel=0.25)


def test_board_off_the_plane_scales():
    for off in (50.0, 200.0):
        moved = points(photo(off=off)) - NOSE
        said = fc.front_from_photo(replace(photo(), off_plane_mm=off, click_px=1e-6)).section(0)
        assert (np.abs(moved[:, 0]) <= 1.05 * said.setback_u + 0.01).all()
        assert (np.abs(moved[:, 1]) <= 1.05 * said.height_u + 0.01).all()


def test_uncertainty_grows_off_a_small_board():
    small, large = (fc.front_from_photo(photo(board=size)).section(0) for size in (300.0, 600.0))
    assert (small.height_u > large.height_u).mean() > 0.7
    far = replace(photo(board=600.0), outline=(*photo(board=600.0).outline, (3000.0, 1200.0)))
    assert fc.front_from_photo(far).section(0).setback_u[-1] > 2.0 * large.setback_u.max()


def test_coverage_of_random_photos():
    rng = np.random.default_rng(18)
    inside = []
    for _ in range(200):
        a, b = rng.uniform(-200.0, 300.0), rng.uniform(-100.0, 300.0)
        off = rng.normal(0.0, 15.0)
        clicks = photo(a=a, b=b, off=off, yaw=rng.normal(0, 3), tilt=rng.normal(0, 2))
        noisy = {
            key: tuple((c + rng.normal(), r + rng.normal()) for c, r in getattr(clicks, key))
            for key in ("corners", "ground", "outline")
        }
        section = fc.front_from_photo(replace(clicks, off_plane_mm=15.0, **noisy)).section(0)
        error = np.abs(section.points - NOSE)
        inside.append(error <= 1.96 * np.column_stack([section.setback_u, section.height_u]))
    share = np.mean(inside, axis=(0, 1))
    assert (share >= 0.90).all(), share
    assert (share <= 0.99).all(), share


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"corners": lambda p: p.corners[::-1]}, "photo.corners"),
        (
            {"corners": lambda p: (p.corners[0], p.corners[2], p.corners[1], p.corners[3])},
            "photo.corners",
        ),
        ({"corners": lambda _: ((0, 40), (40, 40), (40, 0), (0, 0))}, "photo.board"),
        ({"ground": lambda p: tuple((c, r - 200) for c, r in p.ground)}, "photo.ground"),
        ({"ground": lambda p: (p.ground[0], p.ground[0])}, "photo.ground_near"),
        ({"ground": lambda p: p.ground[:1]}, "photo.points"),
        ({"outline": lambda p: p.outline[:2]}, "photo.outline"),
        ({"distance_mm": lambda _: 0.0}, "photo.number"),
    ],
)
def test_refused(change, code):
    good = photo()
    with pytest.raises(fc.InputError if hasattr(fc, "InputError") else ValueError) as caught:
        fc.front_from_photo(replace(good, **{key: make(good) for key, make in change.items()}))
    assert caught.value.code == code


def test_crossing_outline_is_refused():
    good = photo()
    # Up the face, and down and forward again through it.
    crossing = (good.outline[0], good.outline[6], good.outline[9], (1900.0, good.outline[0][1]))
    with pytest.raises(ValueError, match="crosses"):
        fc.front_from_photo(replace(good, outline=crossing))


def test_random_clicks_are_read_or_refused():
    rng = np.random.default_rng(3)
    good, refused = photo(), 0
    for _ in range(200):
        key = ("corners", "ground", "outline")[rng.integers(3)]
        far = 10.0 ** rng.uniform(0, 4)
        moved = tuple(
            (c + rng.normal(0, far), r + rng.normal(0, far)) for c, r in getattr(good, key)
        )
        try:
            section = fc.front_from_photo(replace(good, **{key: moved})).section(0)
        except ValueError as error:
            refused += 1
            words = str(error)
        else:
            words = "found"
            assert np.isfinite(section.points).all()
            assert (section.height_u > 0).all()
        assert "found" in words
    assert 0 < refused < 200


def test_grid_ends_on_the_corners():
    clicks = photo(yaw=5.0)
    ends = np.vstack(board_grid(clicks, 130.0))
    for corner in clicks.corners:
        assert np.hypot(*(ends - corner).T).min() < 1e-6


def test_what_a_photo_cannot_give_is_said():
    front = fc.front_from_photo(photo())
    assert front.stations == (0.0,)
    assert any("not seen" in said for said in front.reader_cautions)
    with pytest.raises(LookupError, match="one station"):
        front.surface()


@pytest.mark.parametrize("b", [350.0, -350.0])
def test_level_bonnet_seen_from_above_stands_off_by_the_closed_form(b):
    # b^2 Rc / (2 d^2) = 15.9 at 350, 5 m, 6500: two lines, one upright and one level.
    from frontcheck.reading.photo import _silhouette

    clicks = replace(photo(), plan_radius_mm=2600.0, crown_radius_mm=6500.0)
    level = np.array([[0.0, 900.0], [100.0, 900.0], [200.0, 900.0]])
    upright = level[:, ::-1]
    found = _silhouette(clicks, level, np.array([100.0, 900.0 + b]))[1]
    assert np.abs(found) == pytest.approx([0.0, 15.9], abs=0.05)
    found = _silhouette(clicks, upright, np.array([1200.0, 100.0]))[1]
    assert np.abs(found) == pytest.approx([4.7, 0.0], abs=0.05)
