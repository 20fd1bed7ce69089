"""The chain of a person by itself: no front, no ground, no damping, no stops, legs that pass."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.body.anatomy import BODIES, figure_of
from frontcheck.body.assumed import nominal
from frontcheck.body.joints import Joints
from frontcheck.body.touch import Moment
from frontcheck.legs.mechanics import stepped
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.geometry.arrays import Array
    from frontcheck.people.people import Person


_LONGEST_S, _SHORTEST_S = 2.0, 1e-6
"""Own choice: longer or finer is a slip of the pen."""


@one_line
@dataclass(frozen=True, eq=False)
class FreeChain:
    """How a chain moved by itself.

    Parameters
    ----------
    bodies : tuple of str
        Names of the nine bodies.
    times_s : ndarray
        (t,) times [s].
    angles_rad : ndarray
        (t, 9) angle of every body against the upright; positive tips its top rearward [rad].
    hips_m : ndarray
        (t, 2) middle of the hip joints, x and z [m].
    centre_of_mass_m : ndarray
        (t, 2) centre of mass of the whole body [m].

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.free_chain(fc.PEOPLE[0], duration_s=0.01).bodies[:2]
    ('pelvis', 'abdomen')
    """

    bodies: tuple[str, ...]
    times_s: Array
    angles_rad: Array
    hips_m: Array
    centre_of_mass_m: Array


def free_chain(
    person: Person,
    *,
    angles_rad: Sequence[float] | None = None,
    rates_rad_s: Sequence[float] | None = None,
    speed_m_s: float = 0.0,
    duration_s: float = 0.15,
    step_s: float = 5e-5,
    gravity_m_s2: float = 0.0,
) -> FreeChain:
    """Let the chain of a person move by itself, to hold its mechanics against other programs.

    Its springs are those of one case without drawing, all of them linear and undamped.

    Parameters
    ----------
    person : Person
        Whose chain.
    angles_rad, rates_rad_s : sequence of float, optional
        (9,) angles of the bodies at the start and their rates, absolute [rad, rad/s]: pelvis,
        abdomen, thorax, neck, head, near thigh, near shank, far thigh, far shank; 0 if left out.
    speed_m_s : float, optional
        Speed of the hips along x at the start [m/s].
    duration_s, step_s : float, optional
        How long, and how long one step is; at most 2 s, and at least 1e-6 s.
    gravity_m_s2 : float, optional
        Downward [m/s2].

    Returns
    -------
    FreeChain
        Every step.

    Raises
    ------
    InputError
        If the person fits no table of proportions.
    ValueError
        If angles or rates are not nine numbers, or a time is out of range.

    Examples
    --------
    >>> import frontcheck as fc
    >>> man = next(person for person in fc.PEOPLE if person.name == "man p50")
    >>> rates = (0.5, 1, 2, 3, 4, -1, 2, 1, -2)
    >>> chain = fc.free_chain(man, rates_rad_s=rates, speed_m_s=3.0)
    >>> round(float(chain.angles_rad[-1][0]), 4)
    0.1222
    """
    if not 0.0 < step_s <= duration_s <= _LONGEST_S or step_s < _SHORTEST_S:
        raise ValueError(
            f"expected {_SHORTEST_S:g} <= step <= duration <= {_LONGEST_S:g} s, not {step_s:g} "
            f"and {duration_s:g}"
        )
    figure = figure_of(person)
    pose, rate = np.zeros((2, 1, 2 + len(BODIES)))
    pose[0, 1], rate[0, 0] = figure.hip, speed_m_s
    for into, given, what in ((pose, angles_rad, "angles"), (rate, rates_rad_s, "rates")):
        if given is not None:
            into[0, 2:] = _nine(given, what)
    if not (math.isfinite(speed_m_s) and math.isfinite(gravity_m_s2)):
        raise ValueError("speed and gravity must be finite numbers")
    joints = Joints(figure, nominal())
    joints.damping, joints.beyond = 0.0 * joints.damping, 0.0 * joints.beyond
    joints.most = np.full_like(joints.most, math.inf)
    chain, skin = figure.chain, figure.skin
    case, place = np.zeros(1, dtype=np.intp), skin.place[None]
    field = np.array([[0.0, -gravity_m_s2]])
    count = round(duration_s / step_s)
    poses = np.empty((count + 1, *pose.shape))
    poses[0] = pose
    for i in range(count):
        now = Moment.of(chain, skin, place, case, pose, rate)
        joints.load(now)
        faster = chain.acceleration(pose, rate, now.force, now.torque, field)
        pose, rate = stepped(pose, rate, faster, step_s)
        poses[i + 1] = pose
    flat = poses[:, 0]
    return FreeChain(
        BODIES,
        np.arange(count + 1, dtype=np.float64) * step_s,
        flat[:, 2:].copy(),
        flat[:, :2].copy(),
        chain.centre_of_mass(flat),
    )


def _nine(given: Sequence[float], what: str) -> Array:
    found = np.asarray(given, dtype=np.float64)
    if found.shape != (len(BODIES),) or not np.isfinite(found).all():
        raise ValueError(f"{what} must be nine finite numbers: {', '.join(BODIES)}")
    return found
