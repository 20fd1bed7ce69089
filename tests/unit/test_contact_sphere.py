"""Spheres kept on a windscreen, where the contact is plain to see."""

from __future__ import annotations

import math

import numpy as np
import pytest

from frontcheck.geometry.sphere import sphere_contact

R = 50.0


def contact(points, screen, upper=0, radius=R):
    return sphere_contact(np.asarray(points, float)[None], radius, screen, upper)


def test_upright_windscreen_on_a_level_bonnet():
    """One radius from the corner on both, centre one radius from both."""
    touch = contact([(0, 0), (400, 0), (400, 500)], (1, 2))
    assert touch.touched[0]
    assert (touch.x[0], touch.z[0]) == pytest.approx((350.0, 0.0))
    assert (touch.centre_x[0], touch.centre_z[0]) == pytest.approx((350.0, 50.0))
    assert (touch.screen_x[0], touch.screen_z[0]) == pytest.approx((400.0, 50.0))
    assert touch.stretch[0] == 0


def test_two_contacts_at_once_take_the_rearmost():
    """A notch narrower than the sphere, both corners level: the sphere meets both at once."""
    points = [(0, 0), (320, 0), (320, -80), (380, -80), (380, 0), (400, 0), (400, 500)]
    touch = contact(points, (5, 6))
    # It rests on the edges x = 320 and x = 380 at once: its centre is above 350.
    assert touch.centre_x[0] == pytest.approx(350.0)
    assert touch.centre_z[0] == pytest.approx(math.sqrt(R * R - 30.0**2))
    assert (touch.x[0], touch.z[0]) == (380.0, 0.0)


def test_hollow_windscreen_holds_the_sphere_up():
    """Two glass stretches with a concave bend: the sphere must not cut into the lower one.

    It rolls along the level glass to its end and meets the step's wall at their joint.
    """
    points = [(0, 0), (200, 0), (200, 60), (500, 60), (500, 400)]
    touch = contact(points, (2, 4), radius=20.0)
    assert (touch.x[0], touch.z[0]) == (200.0, 60.0)
    assert (touch.centre_x[0], touch.centre_z[0]) == pytest.approx((180.0, 60.0))
    # A fin ahead of the level glass is met while the sphere runs along that, centre at 80.
    fin = [(0, 0), (215, 0), (215, 75), (220, 75), (220, 60), (500, 60), (500, 400)]
    touch = contact(fin, (4, 6), radius=20.0)
    assert (touch.x[0], touch.z[0]) == (220.0, 75.0)
    assert touch.centre_z[0] == pytest.approx(80.0)


def test_windscreen_end_below_the_resting_place():
    """The sphere would rest higher than the glass goes."""
    assert not contact([(0, 0), (400, 0), (400, 30)], (1, 2)).touched[0]


def test_sphere_that_starts_inside_the_surface_ahead():
    """A fin stands where the sphere would start; what it would meet lower down is no contact."""
    points = [(0, 0), (330, 0), (330, 260), (340, 260), (340, 0), (400, 0), (400, 200)]
    assert not contact(points, (5, 6)).touched[0]
    lower = [(0, 0), (330, 0), (330, 160), (340, 160), (340, 0), (400, 0), (400, 400)]
    touch = contact(lower, (5, 6))
    assert (touch.x[0], touch.z[0]) == (340.0, 160.0)


def test_sphere_that_rolls_off_the_glass_onto_the_surface():
    """A convex joint and nothing above it: contact is the joint itself, to the last digit."""
    points = [(0.0, -300.0), (700.0, 300.0), (1100.0, 500.0)]
    touch = contact(points, (1, 2))
    assert (touch.x[0], touch.z[0]) == (700.0, 300.0)


@pytest.mark.parametrize(("screen", "upper"), [((1, 1), 0), ((1, 2), 1)])
def test_no_glass_or_no_surface_ahead(screen, upper):
    assert not contact([(0, 0), (400, 0), (400, 500)], screen, upper).touched[0]


def test_batch_of_copies_each_for_itself():
    rng = np.random.default_rng(2)
    base = np.array([(0, 0), (300, 20), (360, -20), (400, -20), (500, 300), (560, 600)], float)
    copies = base + rng.normal(0.0, 2.0, (50, 6, 2))
    together = sphere_contact(copies, R, (3, 5), 0)
    for i, points in enumerate(copies):
        alone = sphere_contact(points[None], R, (3, 5), 0)
        for name in ("touched", "x", "z", "centre_x", "centre_z", "screen_x", "screen_z"):
            assert getattr(alone, name)[0] == getattr(together, name)[i]
