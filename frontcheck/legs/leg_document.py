"""The leg study as plain values, for JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from frontcheck.legs.leg_study import SCHEMA

if TYPE_CHECKING:
    from frontcheck.legs.contact import FirstTouch, FrontContact
    from frontcheck.legs.dynamics import LegRun, RunSettings, Skin
    from frontcheck.legs.foundation import FoundationLoad, KneeResponse
    from frontcheck.legs.leg_study import KneeBand, LegAt, LegStudy
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.people.people import Person


def leg_document(study: LegStudy) -> dict[str, Any]:
    """Return the leg document as plain values."""
    from frontcheck import __version__

    rules = study.fronts[0].rules
    letters = "ab"[: len(study.fronts)]
    return {
        "schema": SCHEMA,
        "frontcheck": __version__,
        "caution": study.cautions[0],
        "inputs": {
            letter: _input(lined, name)
            for letter, lined, name in zip(letters, study.fronts, study.names, strict=True)
        },
        "rule_set": {"id": rules.id, "title": rules.title},
        "person": _person(study.person),
        "assumptions": _assumptions(study.settings),
        "depths_mm": list(study.depths),
        "complete": study.complete,
        "stations": [
            {
                "y_mm": station.y,
                "fronts": {
                    letter: _at(at) for letter, at in zip(letters, station.fronts, strict=True)
                },
                "rankings": [ranking.to_dict() for ranking in station.rankings],
            }
            for station in study.stations
        ],
        "notes": list(study.notes),
        "cautions": list(study.cautions),
    }


def _input(lined: LinedFront, name: str) -> dict[str, Any]:
    source = lined.front.source
    return {
        "name": name, "file": source.file, "sha256": source.sha256, "kind": source.kind,
    }  # fmt: skip


def _person(person: Person) -> dict[str, Any]:
    return {
        "name": person.name,
        "knee_mm": person.knee.value_mm,
        "hip_mm": person.hip.value_mm,
        "source": person.knee.source,
        "provenance": person.knee.provenance,
    }


def _skin(skin: Skin) -> dict[str, float]:
    return {"stiffness_N_per_mm2": skin.stiffness, "damping_s_per_m": skin.damping}


def _assumptions(settings: RunSettings) -> dict[str, Any]:
    knee = settings.knee
    return {
        "speed_km_h": settings.speed_km_h,
        "skin": _skin(settings.skin),
        "parts": {part: _skin(skin) for part, skin in settings.parts},
        "knee": {
            "bending_stiffness_N_m_per_rad": _finite(knee.bending_stiffness),
            "bending_damping_N_m_s_per_rad": knee.bending_damping,
            "shear_stiffness_N_per_mm": _finite(knee.shear_stiffness),
            "shear_damping_N_s_per_mm": knee.shear_damping,
            "locked": [
                name
                for name, value in (
                    ("bending", knee.bending_stiffness), ("shear", knee.shear_stiffness)
                )
                if math.isinf(value)
            ],
        },
        "duration_ms": settings.duration_ms,
        "step_ms": settings.step_ms,
        "rotation_limit_deg": settings.rotation_limit_deg,
    }  # fmt: skip


def _finite(value: float) -> float | None:
    """JSON has no infinity: a lock is None and named beside it; so is a balance that blew up."""
    return value if math.isfinite(value) else None


def _at(at: LegAt) -> dict[str, Any]:
    return {
        "name": at.name,
        "basis": at.basis,
        "missing": list(at.missing),
        "first_touch": _touch(at.touch),
        "contact_order": _members(at.contact),
        "lip_behind_bumper_mm": at.contact.undercut_mm,
        "knee_and_bumper": _band(at.band),
        "load": _load(at.load),
        "opening_rate": _response(at.response),
        "legform": _run(at.run),
        "parts_not_faced": list(at.idle_parts),
    }


def _touch(touch: FirstTouch | None) -> dict[str, Any] | None:
    if touch is None:
        return None
    return {
        "x_mm": touch.x, "z_mm": touch.z, "place": touch.place,
        "above_knee_mm": touch.above_knee_mm,
    }  # fmt: skip


def _members(contact: FrontContact) -> list[dict[str, Any]]:
    return [
        {
            "name": member.name,
            "x_mm": member.x,
            "z_mm": member.z,
            "closing_mm": member.closing_mm,
            "basis": member.basis,
        }
        for member in contact.members
    ]


def _band(band: KneeBand | None) -> dict[str, Any] | None:
    if band is None:
        return None
    return {
        "knee_mm": band.knee, "LBRL_z_mm": band.low, "UBRL_z_mm": band.high, "place": band.place,
    }  # fmt: skip


def _load(load: FoundationLoad | None) -> list[dict[str, Any]] | None:
    if load is None:
        return None
    return [
        {
            "depth_mm": float(load.depth[i]),
            "height_mm": float(load.height[i]),
            "share_below_knee": float(load.below[i]),
            "share_across_knee": float(load.across[i]),
            "share_above_knee": float(load.above[i]),
            "bands_mm": [list(band) for band in load.bands[i]],
        }
        for i in range(len(load.depth))
    ]


def _response(response: KneeResponse | None) -> list[dict[str, Any]] | None:
    if response is None:
        return None
    return [
        {
            "depth_mm": float(response.depth[i]),
            "load_height_mm": float(response.height[i]),
            "rate_rad_per_s_per_N_s": float(response.rate[i]),
            "share_of_blow_at_knee": float(response.rate[i]) / response.blow_at_knee,
            "sense": response.sense(i),
        }
        for i in range(len(response.depth))
    ]


def _run(run: LegRun | None) -> dict[str, Any] | None:
    if run is None:
        return None
    history = {
        "time_ms": run.time,
        "knee_angle_deg": run.knee_angle,
        "knee_shear_mm": run.knee_shear,
        "tibia_acceleration_g": run.tibia_acceleration,
        "force_kN": run.force,
    }
    return {
        "status": run.status,
        "reason": run.reason,
        "usable": run.usable,
        "ended_ms": float(run.time[-1]),
        "peak_knee_angle_deg": run.peak_knee_angle,
        "peak_knee_shear_mm": run.peak_knee_shear,
        "peak_tibia_acceleration_g": run.peak_tibia_acceleration,
        "energy_error": _finite(run.energy_error),
        "momentum_error": _finite(run.momentum_error),
        # A run out of balance is not to be used, so nothing of it is handed on.
        "history": {k: v.tolist() for k, v in history.items()} if run.usable else None,
    }
