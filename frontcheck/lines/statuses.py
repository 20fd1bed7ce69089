"""What the statuses of lines, places and areas say, in words, and whose value is not known."""

from __future__ import annotations

from typing import Final

OPEN_END: Final = "open_end"
"""Status of a value that is kept, but not known: nothing may be read off it as measured."""

STATUS_WORDS: Final = {
    "ok": "formed in the plain way",
    "retaken_40deg": "taken again at the second inclination of the straight edge",
    "lower_end": "the lower end of the straight edge touches first",
    "wad_1000": "a wrap-around point stands in, as the upper end of the edge touches first",
    "underside_first": "the straight edge would touch the underside first; taken on the bumper",
    "wad_only": "bounded by wrap-around distance (WAD) alone, for want of the lines",
    "edge_end": "at the end of the straight edge or of what was measured: more may stand beyond",
    "open_end": "open end: what lies beyond the measured surface could change it",
    "not_reached": "could not be formed: nothing lies within reach",
    "not_available": "could not be formed: the input does not allow it",
}
"""What each status means."""

STATUS_NAMES: Final = {
    "ok": "ok",
    "retaken_40deg": "second inclination",
    "lower_end": "lower end",
    "wad_1000": "WAD point",
    "underside_first": "underside first",
    "wad_only": "WAD alone",
    "edge_end": "edge end",
    "open_end": "open end",
    "not_reached": "not reached",
    "not_available": "not available",
}
"""The same in a word or two, where a sentence has no room; codes stand in documents only."""

UNSURE: Final = frozenset({"edge_end", OPEN_END})
"""Statuses drawn hollow: more may stand beyond the tip of the tool or the measured surface."""

NOT_KNOWN: Final = "not known: open end"
"""Why nothing is read off a value that an open end could change."""
