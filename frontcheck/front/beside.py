"""What is known of a front beside its shape: stiff things under the skin, beam, windscreen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from frontcheck.errors import refuse
from frontcheck.serializer import one_line

_Given = TypeVar("_Given")


@dataclass(frozen=True)
class HardPoint:
    """One point of something stiff under the skin.

    Parameters
    ----------
    x, y, z : float
        The point: setback, to the vehicle's right, above ground [mm].
    name : str
        What it is called; each name once in a file.
    kind : str
        What kind of thing it is, such as ``hinge``.
    row : int or None, optional
        Row of the source file.

    Examples
    --------
    >>> import frontcheck as fc
    >>> latch = fc.HardPoint(120, 0, 760, "bonnet latch", "latch")
    >>> settings = fc.FindingSettings(hard_points=(latch,))
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"), finding_settings=settings)
    >>> any("bonnet latch" in finding.message for finding in result.findings)
    True
    """

    x: float
    y: float
    z: float
    name: str
    kind: str
    row: int | None = None


@one_line
@dataclass(frozen=True)
class HardPoints:
    """The hard points of one file.

    Parameters
    ----------
    points : tuple of HardPoint
        In the order of the file.
    name, notes : str, optional
        What the file says of itself.
    file : str, optional
        File name without folders.
    sha256 : str, optional
        Digest of the file's bytes, in hex.
    reader_notes : tuple of str, optional
        What the reader detected.

    Examples
    --------
    >>> import frontcheck as fc
    >>> points = fc.read_hard_points("geometries/plover-hard-points.csv").points
    >>> points[0].name
    'bonnet latch'
    """

    points: tuple[HardPoint, ...]
    name: str = ""
    notes: str = ""
    file: str = ""
    sha256: str = ""
    reader_notes: tuple[str, ...] = ()


@one_line
@dataclass(frozen=True)
class Beside:
    """What a front file says beside the shape; lengths in mm, in the axes of the sections."""

    hard_points: tuple[HardPoint, ...] = ()
    beam_ends_mm: tuple[float, float] | None = None  # y of the left and of the right end
    windscreen_from: tuple[float, float] | None = None  # Its foot at the centre, x and z


def given_once(asked: _Given | None, told: _Given | None, name: str, file: str) -> _Given | None:
    """Return what the caller or the front file gives; refuse what both do."""
    if asked and told:
        raise refuse("front_file.twice", file, key=f"beside.{name}")
    return asked or told
