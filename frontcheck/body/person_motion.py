"""What becomes of one person who is struck: pushed ahead, folded or carried up, and the head."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from frontcheck.body.anatomy import BODIES, HEAD, THORAX
from frontcheck.body.assumed import FRONT_PARTS
from frontcheck.body.assumptions import TOLD
from frontcheck.body.chain import turned
from frontcheck.body.struck import strike
from frontcheck.body.struck_front import BEYOND, NOT_COVERED, PLACES
from frontcheck.body.whole_figure import spanned, whole
from frontcheck.serializer import one_line
from frontcheck.sure.shares import least_share

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from frontcheck.body.anatomy import Figure
    from frontcheck.body.assumed import Cases
    from frontcheck.body.edge_height import EdgeToMiddle
    from frontcheck.body.struck import Struck
    from frontcheck.body.struck_front import StruckFront
    from frontcheck.documents import Kind
    from frontcheck.geometry.arrays import Array

KINDS: Final[Mapping[str, Kind]] = {
    "pushed": "pushed ahead",
    "folded": "folded over the edge",
    "carried": "carried up",
}
"""Kinds by their share."""
FOLDED_DEG: Final = TOLD["folded"]
"""A trunk that leans more than this is folded: own choice, between upright and flat."""
AGREED: Final = TOLD["agreed"]
"""A kind is named when at least this share of the cases agrees: own choice."""
TOUCHED: Final = TOLD["touched"]
"""A place of the head is given when in at least this share of the cases it touches what was
measured: own choice, as the interval told is that of 5 to 95 %."""
FRAME_S: Final = 0.005
"""How often the pose of the case told in pictures is kept [s]."""


@one_line
@dataclass(frozen=True)
class Spread:
    """Of all assumed cases."""

    median: float
    p5: float
    p95: float

    @classmethod
    def of(cls, values: Array) -> Spread | None:
        """Take it from cases, those that are not a number apart; None without any."""
        known = values[~np.isnan(values)]
        if not len(known):
            return None
        low, median, high = np.percentile(known, [5.0, 50.0, 95.0]).tolist()
        return cls(median, low, high)


@one_line
@dataclass(frozen=True)
class FirstContact:
    """What meets first."""

    part: str  # Of the front, in most cases
    body: str  # Of the person, in most cases
    height_mm: Spread


@one_line
@dataclass(frozen=True, eq=False)
class Frames:
    """The middle case in pictures: by the place of the head, or else by the centre of mass."""

    times_ms: Array  # (t,) from the first contact on
    circles_mm: Array  # (t, c, 2) centres of circles of the outline
    radii_mm: Array  # (c,)
    spanned: tuple[tuple[int, ...], ...]  # Circles that one taut band lies round, for every body
    head_mm: Array  # (t, 2) centre of the head
    head_radius_mm: float
    centre_of_mass_mm: Array  # (t, 2)
    contact_mm: tuple[float, float] | None  # Where the head touches, where a place is given


@one_line
@dataclass(frozen=True)
class PersonMotion:
    """What becomes of one person, in all assumed cases.

    Where it cannot be said at all, shares are empty, nothing is given, and the reason says why.

    Parameters
    ----------
    person : str
        Who.
    stature_mm, mass_kg : float
        Stature [mm] and mass [kg].
    station_mm : float
        Station [mm].
    kind : {"pushed ahead", "folded over the edge", "carried up", "undecided"}
        Named where 90 of 100 cases agree.
    shares : dict of str to float
        Of the cases: pushed, folded, carried; and no_head_contact, beyond_measured.
    at_least : float, optional
        Lower 95 % limit of the share of the kind that is named.
    wad_mm : Spread, optional
        Wrap-around distance at which the head touches [mm].
    time_ms : Spread, optional
        When it does, from the first contact on [ms].
    part : str, optional
        Part of the front that the head touches most often.
    parts : dict of str to float, optional
        Shares of the cases by the part touched.
    torso_deg : Spread, optional
        Lean of the trunk then, or at the end [deg].
    past_edge_mm : Spread, optional
        Centre of mass behind BLERL then, or at the end [mm].
    first_contact : FirstContact, optional
        What meets first.
    reason : str, optional
        Why something is not given.
    edge : EdgeToMiddle, optional
        How high the leading edge is against the centre of mass, standing.

    Examples
    --------
    >>> import frontcheck as fc
    >>> avocet = fc.read_front("geometries/avocet.csv")
    >>> fc.motion(avocet, people=fc.PEOPLE[2:3], draws=20).people[0].shares["carried"]
    1.0
    """

    person: str
    stature_mm: float
    mass_kg: float
    station_mm: float
    kind: Kind
    shares: dict[str, float]
    at_least: float | None = None
    wad_mm: Spread | None = None
    time_ms: Spread | None = None
    part: str | None = None
    parts: dict[str, float] | None = None
    torso_deg: Spread | None = None
    past_edge_mm: Spread | None = None
    first_contact: FirstContact | None = None
    reason: str = ""
    edge: EdgeToMiddle | None = None

    @property
    def refused(self) -> bool:
        """Whether nothing at all can be said."""
        return not self.shares


@one_line
@dataclass(frozen=True, eq=False)
class HeadContacts:
    """Where and when the head touched, case by case; not a number where it did not."""

    wad_mm: Array  # (B,)
    time_ms: Array  # (B,)
    at_mm: Array  # (B, 2) point (x, z) of the front


@dataclass(frozen=True, eq=False)
class Told:
    """One person, with what the cases gave."""

    motion: PersonMotion
    heads: HeadContacts
    frames: Frames | None


def person_motion(
    struck: StruckFront, name: str, figure: Figure, cases: Cases, speed_km_h: float
) -> Told:
    """Let one person be struck at one station, in many assumed cases."""
    ended = strike(figure, struck.wall, struck.part, cases, speed_km_h / 3.6, keep_every=FRAME_S)
    touched = np.flatnonzero(~np.isnan(ended.head_s))
    wads = np.full(len(cases), np.nan)
    wads[touched] = struck.distances(ended.head_stretch[touched], 1e3 * ended.head_at[touched])
    motion = _told(struck, name, figure, ended, wads)
    heads = HeadContacts(wads, 1e3 * ended.head_s, 1e3 * ended.head_at)
    given = motion.wad_mm is not None
    return Told(motion, heads, _frames(figure, cases, ended, wads if given else None))


def _told(
    struck: StruckFront, name: str, figure: Figure, ended: Struck, wads: Array
) -> PersonMotion:
    count = len(wads)
    torso = np.degrees(ended.pose[:, 2 + THORAX])
    past = 1e3 * figure.chain.centre_of_mass(ended.pose)[:, 0] - struck.edge[0]
    carried = past > 0.0
    folded = ~carried & (torso >= FOLDED_DEG)
    touched = ~np.isnan(ended.head_s)
    counts = {
        "pushed": int((~carried & ~folded).sum()),
        "folded": int(folded.sum()),
        "carried": int(carried.sum()),
        "no_head_contact": int((~touched & ~ended.beyond).sum()),
        "beyond_measured": int(ended.beyond.sum()),
    }
    shares = {name: number / count for name, number in counts.items()}
    named = next((share for share in KINDS if shares[share] >= AGREED), None)
    places = Counter((*PLACES, *NOT_COVERED)[i] for i in struck.place[ended.head_stretch[touched]])
    reason = _withheld(struck, shares, places, wads)
    given = not reason
    return PersonMotion(
        name,
        1e3 * figure.stature,
        figure.mass,
        struck.y,
        "undecided" if named is None else KINDS[named],
        shares,
        None if named is None else least_share(counts[named], count),
        Spread.of(wads) if given else None,
        Spread.of(1e3 * ended.head_s) if given else None,
        places.most_common(1)[0][0] if given else BEYOND if _is_beyond(shares) else None,
        {place: n / count for place, n in sorted(places.items())} if given else None,
        Spread.of(torso),
        Spread.of(past),
        _first(struck, ended),
        reason,
    )


class _Told(Protocol):
    """Something of a person, or a reason why there is nothing."""

    @property
    def person(self) -> str: ...
    @property
    def reason(self) -> str: ...


def by_reason(told: Iterable[_Told]) -> dict[str, list[str]]:
    """Why something is not given, each reason once, with the people whom it concerns."""
    reasons: dict[str, list[str]] = {}
    for one in told:
        if one.reason:
            reasons.setdefault(one.reason, []).append(one.person)
    return reasons


def too_few(shares: Mapping[str, float]) -> bool:
    """Whether too few heads touch what was measured for a place to be given."""
    return round(shares["no_head_contact"] + shares["beyond_measured"], 12) > 1.0 - TOUCHED


def _is_beyond(shares: Mapping[str, float]) -> bool:
    """Whether the place of the head is withheld since the contour ends before."""
    return shares["beyond_measured"] > max(1.0 - TOUCHED, shares["no_head_contact"])


def _withheld(
    struck: StruckFront, shares: dict[str, float], places: Counter[str], wads: Array
) -> str:
    """Why no place of the head is given; empty where it is."""
    never, beyond = shares["no_head_contact"], shares["beyond_measured"]
    if too_few(shares):
        said = []
        if never:
            said.append(f"the head touches nothing within 0.35 s in {never:.0%} of the cases")
        if beyond:
            said.append(f"it goes beyond what was measured in {beyond:.0%} of the cases")
        return " and ".join(said)
    if struck.tape is None:
        return "no tape can be hung there: the foremost point of the bumper is not known"
    for part in NOT_COVERED:
        if places[part]:
            return f"the head meets a {part}, whose shape across the front matters"
    farthest = np.nanpercentile(wads, 95.0)
    for distance, why in struck.open_marks:
        if distance <= farthest:
            return f"the wrap-around distance is not known there: {why}"
    return ""


def _first(struck: StruckFront, ended: Struck) -> FirstContact | None:
    met = np.flatnonzero(~np.isnan(ended.first_s))
    body = Counter(BODIES[i] for i in ended.first_body[met].tolist())
    part = Counter(FRONT_PARTS[i] for i in struck.part[ended.first_stretch[met]].tolist())
    height = Spread.of(1e3 * ended.first_at[met, 1])
    if height is None:
        return None
    return FirstContact(part.most_common(1)[0][0], body.most_common(1)[0][0], height)


def _frames(figure: Figure, cases: Cases, ended: Struck, wads: Array | None) -> Frames | None:
    """The middle case: by the place of the head where it is given, else by the centre of mass."""
    met = np.flatnonzero(~np.isnan(ended.first_s))
    if not len(met):
        return None
    by = figure.chain.centre_of_mass(ended.pose)[:, 0] if wads is None else wads
    case = int(np.nanargmin(np.abs(by - np.nanmedian(by))))
    start = ended.first_s[case]
    poses = ended.poses[:, case]
    own = ~np.isnan(poses[:, 0]) & (ended.times >= start - FRAME_S)
    poses = np.concatenate([poses[own], ended.pose[case][None]])
    last = start + ended.head_s[case] if np.isfinite(ended.head_s[case]) else ended.times[own][-1]
    times = 1e3 * (np.append(ended.times[own], last) - start)
    (place,) = figure.skin.with_shoulders(cases.shoulder[case : case + 1])
    body, place, radius = whole(figure, place)
    circles = figure.chain.origins(poses)[:, body] + turned(place[None], poses[:, 2 + body])
    head = int(np.flatnonzero(body == HEAD)[0])
    at = 1e3 * ended.head_at[case]
    return Frames(
        times,
        1e3 * circles,
        1e3 * radius,
        spanned(body, place),
        1e3 * circles[:, head],
        1e3 * float(radius[head]),
        1e3 * figure.chain.centre_of_mass(poses),
        None if wads is None else (float(at[0]), float(at[1])),
    )
