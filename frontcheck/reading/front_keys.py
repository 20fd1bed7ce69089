"""What a front file may hold: every key with its kind and range."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Final, Literal, TypeAlias

from msgspec import Meta, Struct, defstruct

from frontcheck.front.survey import MAX_ERROR_LENGTH_MM, MAX_SCALE_PERCENT
from frontcheck.reading.offset_header import SURVEY_KEYS
from frontcheck.surface.section import PARTS

_IN_NOISE: Final = ("error_length", "scale_u")

_Text = Annotated[str, Meta(min_length=1, max_length=1000)]
_Axis = Annotated[
    Literal["+x", "-x", "+y", "-y", "+z", "-z"], Meta(description="one of +x, -x, +y, -y, +z, -z")
]
_Far = Annotated[float, Meta(ge=-1e5, le=1e5)]
_Degrees = Annotated[float, Meta(ge=-15.0, le=15.0)]
_Ride = Annotated[float, Meta(ge=-400.0, le=400.0)]
_Patterns = Annotated[
    tuple[_Text, ...] | None, Meta(description='a list of name patterns such as ["HOOD*"]')
]


class _Told(Struct, forbid_unknown_fields=True, frozen=True):
    """A table of a front file."""


class _Axes(_Told, frozen=True):
    forward: _Axis | None = None
    up: _Axis | None = None
    centre_y: Annotated[float, Meta(ge=-1e9, le=1e9)] = 0.0


class _Ground(_Told, frozen=True):
    height: Annotated[float, Meta(ge=-1e9, le=1e9)] | None = None
    slope_deg: _Degrees = 0.0
    auto: bool = False


class PoseKeys(_Told, frozen=True):
    """How the front is turned and lifted from where it stands in its file."""

    pitch_deg: _Degrees = 0.0
    ride_front: _Ride = 0.0
    ride_rear: _Ride = 0.0


class _Cut(_Told, frozen=True):
    stations: Annotated[
        tuple[_Far, ...], Meta(min_length=1, description="a list of stations such as [0, 100]")
    ] = ()
    pitch: Annotated[float, Meta(ge=0.1, le=1000.0)] | None = None
    half: bool | None = None
    gap: Annotated[float, Meta(ge=0.0, le=1000.0)] | None = None
    datum: Annotated[Literal["common", "local"], Meta(description="common or local")] | None = None


class MarkKeys(_Told, frozen=True):
    """A primary reference mark; lengths in mm."""

    name: _Text
    x: _Far
    measured_z: float
    design_z: float


class _Beside(_Told, frozen=True):
    hard_points: str = ""
    beam_ends: (
        Annotated[tuple[_Far, _Far], Meta(description="a list such as [-560, 560]")] | None
    ) = None
    windscreen_from: (
        Annotated[tuple[_Far, _Far], Meta(description="a list of x and z such as [1075, 925]")]
        | None
    ) = None
    marks: tuple[
        Annotated[
            MarkKeys | tuple[_Text, _Far, float, float],
            Meta(
                description='marks such as ["sill", 1250, 312, 305]: name, x, measured z, design z'
            ),
        ],
        ...,
    ] = ()


class _Noise(_Told, frozen=True):
    height_u: Annotated[float, Meta(ge=0.0, le=200.0)] = 0.0
    setback_u: Annotated[float, Meta(ge=0.0, le=200.0)] = 0.0
    error_length: Annotated[float, Meta(ge=0.0, le=MAX_ERROR_LENGTH_MM)] = 0.0
    scale_u: Annotated[float, Meta(ge=0.0, le=MAX_SCALE_PERCENT)] = 0.0


if TYPE_CHECKING:
    PartKeys: TypeAlias = _Told
    SurveyKeys: TypeAlias = _Told
else:
    _named = [part for part in PARTS if part]
    PartKeys = defstruct(
        "PartKeys", [(n, _Patterns, None) for n in (*_named, "exclude", "include")], bases=(_Told,),
        frozen=True,
    )  # fmt: skip
    _Line = Annotated[
        str | float | None, Meta(description="what stands in a table's '# key:' line")
    ]
    _lines = [k for k in SURVEY_KEYS if not k.startswith("mark_") and k not in _IN_NOISE]
    SurveyKeys = defstruct(
        "SurveyKeys", [(k, _Line, None) for k in _lines],
        bases=(_Told,), frozen=True,
    )  # fmt: skip


class FrontKeys(_Told, frozen=True):
    """A front file as a whole."""

    files: Annotated[
        tuple[_Text, ...], Meta(min_length=1, description='a list of files such as ["a.stl"]')
    ]
    name: Annotated[str, Meta(max_length=120)] = ""
    kind: (
        Annotated[Literal["table", "drawing", "mesh", "scan", "step"],
                  Meta(description="one of table, drawing, mesh, scan, step")] | None
    ) = None  # fmt: skip
    unit: (
        Annotated[Literal["mm", "cm", "m", "in"], Meta(description="one of mm, cm, m, in")] | None
    ) = None
    sheet: Annotated[str, Meta(max_length=200)] = ""
    axes: _Axes = _Axes()
    ground: _Ground = _Ground()
    attitude: PoseKeys = PoseKeys()
    cut: _Cut = _Cut()
    parts: PartKeys = PartKeys()
    beside: _Beside = _Beside()
    survey: SurveyKeys = SurveyKeys()
    noise: _Noise = _Noise()
