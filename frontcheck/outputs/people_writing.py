"""What the commands ``leg`` and ``motion`` leave behind, for Python: documents and folders."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.outputs.documents.result_files import leg_files, motion_files
from frontcheck.outputs.writing import written

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.body.motion import MotionStudy
    from frontcheck.legs.leg_study import LegStudy
    from frontcheck.outputs.writing import Where


def write_leg(study: LegStudy, path: Where, depth: float = 60.0) -> Path:
    """Write a leg study: its document, or a folder with document and figures.

    Parameters
    ----------
    study : LegStudy
        The study.
    path : str or os.PathLike
        A name that ends in ``.json`` for the document, any other for a folder.
    depth : float, optional
        Depth at which loads are drawn [mm].

    Returns
    -------
    pathlib.Path
        The document or the folder.

    Raises
    ------
    OutputError
        If it cannot be written; nothing is lost then.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> fc.write_leg(fc.leg([result], fc.PEOPLE[0]), "leg.json").name
    'leg.json'
    """
    return written(path, study.to_dict, lambda: leg_files(study, depth))


def write_motion(study: MotionStudy, path: Where) -> Path:
    """Write a motion study: its document, or a folder with document and figures.

    Parameters
    ----------
    study : MotionStudy
        The study.
    path : str or os.PathLike
        A name that ends in ``.json`` for the document, any other for a folder.

    Returns
    -------
    pathlib.Path
        The document or the folder.

    Raises
    ------
    OutputError
        If it cannot be written; nothing is lost then.

    Examples
    --------
    >>> import frontcheck as fc
    >>> study = fc.motion(fc.read_front("geometries/plover.csv"), people=fc.PEOPLE[:1], draws=20)
    >>> fc.write_motion(study, "motion.json").name
    'motion.json'
    """
    return written(path, study.to_dict, lambda: motion_files(study))
