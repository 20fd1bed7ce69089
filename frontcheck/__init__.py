"""frontcheck: pedestrian-protection reference lines and zones of a vehicle front, from its offsets.

A screening of geometry. Not a test, not an approval, not a prediction of injury.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from frontcheck.body.free_chain import FreeChain, free_chain
    from frontcheck.body.motion import MotionStudy, motion
    from frontcheck.body.person_motion import PersonMotion
    from frontcheck.caution import CAUTION
    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.comparison.two_fronts import compare
    from frontcheck.findings.explanations import explain
    from frontcheck.findings.finding_settings import FindingSettings
    from frontcheck.front.beside import HardPoint, HardPoints
    from frontcheck.front.front import Front, Source
    from frontcheck.front.plausible import Doubt, plausibility
    from frontcheck.legs.leg_study import LegStudy
    from frontcheck.legs.leg_study import leg_study as leg
    from frontcheck.outputs.documents.exports import read_screening
    from frontcheck.outputs.documents.exports_dxf import write_dxf
    from frontcheck.outputs.documents.offset_table import offset_table
    from frontcheck.outputs.figures.comparison_figures import (
        changes_figure,
        distance_figure,
        overlay_figure,
    )
    from frontcheck.outputs.figures.comparison_figures import leg_figure as leg_overlay_figure
    from frontcheck.outputs.figures.comparison_figures import plan_figure as outline_figure
    from frontcheck.outputs.figures.findings_figures import findings_view, head_map
    from frontcheck.outputs.figures.leg_figure import leg_figure
    from frontcheck.outputs.figures.leg_motion_figure import leg_motion_figure
    from frontcheck.outputs.figures.motion_figure import motion_figure
    from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view
    from frontcheck.outputs.figures.scan_figure import scan_figure
    from frontcheck.outputs.figures.side_view import face_view, overview, side_view
    from frontcheck.outputs.figures.side_view import save as save_figure
    from frontcheck.outputs.figures.sweep_figures import (
        feasible_region,
        scatter_matrix,
        sensitivity_bars,
    )
    from frontcheck.outputs.figures.sweep_figures import outlines as variant_outlines
    from frontcheck.outputs.figures.tolerance_figure import interval_chart, tolerance_figure
    from frontcheck.outputs.pages.book_html import write_handbook
    from frontcheck.outputs.pages.check_page import write_checks
    from frontcheck.outputs.scan_writing import write_scan
    from frontcheck.outputs.writing import (
        annex,
        worksheet,
        write_annex,
        write_comparison,
        write_leg,
        write_motion,
        write_screening,
        write_sweep,
        write_tolerance,
        write_worksheet,
    )
    from frontcheck.people.people import PEOPLE, Person, person_of_stature
    from frontcheck.reading.describe_file import describe
    from frontcheck.reading.form import Worksheet
    from frontcheck.reading.hard_point_file import read_hard_points
    from frontcheck.reading.photo import front_from_photo
    from frontcheck.reading.photo_clicks import PhotoClicks
    from frontcheck.reading.readers import read_front
    from frontcheck.reading.scan.scan import Scan, read_scan
    from frontcheck.rules.ruleset import RuleSet, rule_set, rule_set_ids
    from frontcheck.screening import Screening, ScreeningDocument, screen
    from frontcheck.study.nose_dimensions import Nose
    from frontcheck.study.noses import nose_front
    from frontcheck.study.sensitivity import Sensitivity, sensitivity
    from frontcheck.study.solve import Solution, solve
    from frontcheck.study.study import Study
    from frontcheck.study.study_file import read_study
    from frontcheck.study.sweep import SweepRun
    from frontcheck.study.sweep import run_sweep as sweep
    from frontcheck.study.sweep_results import Results, read_results
    from frontcheck.study.what_if import WhatIf, what_if
    from frontcheck.sure.closure import ClosureReport, closure
    from frontcheck.sure.corrections import CorrectionReport, corrected
    from frontcheck.sure.intervals import tolerance
    from frontcheck.sure.spacing import SpacingReport, spacing
    from frontcheck.sure.tolerance_result import Tolerance
    from frontcheck.sure.uncertainty import HAND_TOOLS, Uncertainty
    from frontcheck.surface.face import FaceDescriptors
    from frontcheck.surface.section import Section
    from frontcheck.zones.front_zones import FrontZones, ZoneOptions

__all__ = [
    "CAUTION",
    "HAND_TOOLS",
    "PEOPLE",
    "ClosureReport",
    "Comparison",
    "CorrectionReport",
    "Doubt",
    "FaceDescriptors",
    "FindingSettings",
    "FreeChain",
    "Front",
    "FrontZones",
    "HardPoint",
    "HardPoints",
    "LegStudy",
    "MotionStudy",
    "Nose",
    "Person",
    "PersonMotion",
    "PhotoClicks",
    "Results",
    "RuleSet",
    "Scan",
    "Screening",
    "ScreeningDocument",
    "Section",
    "Sensitivity",
    "Solution",
    "Source",
    "SpacingReport",
    "Study",
    "SweepRun",
    "Tolerance",
    "Uncertainty",
    "WhatIf",
    "Worksheet",
    "ZoneOptions",
    "__version__",
    "annex",
    "bonnet_map",
    "changes_figure",
    "closure",
    "compare",
    "corrected",
    "describe",
    "distance_figure",
    "explain",
    "face_view",
    "feasible_region",
    "findings_view",
    "free_chain",
    "front_from_photo",
    "front_view",
    "head_map",
    "interval_chart",
    "leg",
    "leg_figure",
    "leg_motion_figure",
    "leg_overlay_figure",
    "motion",
    "motion_figure",
    "nose_front",
    "offset_table",
    "outline_figure",
    "overlay_figure",
    "overview",
    "person_of_stature",
    "plan_view",
    "plausibility",
    "read_front",
    "read_hard_points",
    "read_results",
    "read_scan",
    "read_screening",
    "read_study",
    "rule_set",
    "rule_set_ids",
    "save_figure",
    "scan_figure",
    "scatter_matrix",
    "screen",
    "sensitivity",
    "sensitivity_bars",
    "side_view",
    "solve",
    "spacing",
    "sweep",
    "tolerance",
    "tolerance_figure",
    "variant_outlines",
    "what_if",
    "worksheet",
    "write_annex",
    "write_checks",
    "write_comparison",
    "write_dxf",
    "write_handbook",
    "write_leg",
    "write_motion",
    "write_scan",
    "write_screening",
    "write_sweep",
    "write_tolerance",
    "write_worksheet",
]

__version__ = "0.1.0"

_HOMES = {
    "CAUTION": "caution",
    "ClosureReport": "sure.closure",
    "Comparison": "comparison.comparison_result",
    "CorrectionReport": "sure.corrections",
    "Doubt": "front.plausible",
    "FaceDescriptors": "surface.face",
    "FindingSettings": "findings.finding_settings",
    "FreeChain": "body.free_chain",
    "Front": "front.front",
    "FrontZones": "zones.front_zones",
    "HAND_TOOLS": "sure.uncertainty",
    "HardPoint": "front.beside",
    "HardPoints": "front.beside",
    "LegStudy": "legs.leg_study",
    "MotionStudy": "body.motion",
    "Nose": "study.nose_dimensions",
    "PEOPLE": "people.people",
    "Person": "people.people",
    "PersonMotion": "body.person_motion",
    "PhotoClicks": "reading.photo_clicks",
    "Results": "study.sweep_results",
    "RuleSet": "rules.ruleset",
    "Scan": "reading.scan.scan",
    "Screening": "screening",
    "ScreeningDocument": "screening",
    "Section": "surface.section",
    "Sensitivity": "study.sensitivity",
    "Solution": "study.solve",
    "Source": "front.front",
    "SpacingReport": "sure.spacing",
    "Study": "study.study",
    "SweepRun": "study.sweep",
    "Tolerance": "sure.tolerance_result",
    "Uncertainty": "sure.uncertainty",
    "WhatIf": "study.what_if",
    "Worksheet": "reading.form",
    "ZoneOptions": "zones.front_zones",
    "annex": "outputs.writing",
    "bonnet_map": "outputs.figures.plan_figures",
    "changes_figure": "outputs.figures.comparison_figures",
    "closure": "sure.closure",
    "compare": "comparison.two_fronts",
    "corrected": "sure.corrections",
    "describe": "reading.describe_file",
    "distance_figure": "outputs.figures.comparison_figures",
    "explain": "findings.explanations",
    "face_view": "outputs.figures.side_view",
    "feasible_region": "outputs.figures.sweep_figures",
    "findings_view": "outputs.figures.findings_figures",
    "free_chain": "body.free_chain",
    "front_from_photo": "reading.photo",
    "front_view": "outputs.figures.plan_figures",
    "head_map": "outputs.figures.findings_figures",
    "interval_chart": "outputs.figures.tolerance_figure",
    "leg": "legs.leg_study:leg_study",
    "leg_figure": "outputs.figures.leg_figure",
    "leg_motion_figure": "outputs.figures.leg_motion_figure",
    "leg_overlay_figure": "outputs.figures.comparison_figures:leg_figure",
    "motion": "body.motion",
    "motion_figure": "outputs.figures.motion_figure",
    "nose_front": "study.noses",
    "offset_table": "outputs.documents.offset_table",
    "outline_figure": "outputs.figures.comparison_figures:plan_figure",
    "overlay_figure": "outputs.figures.comparison_figures",
    "overview": "outputs.figures.side_view",
    "person_of_stature": "people.people",
    "plan_view": "outputs.figures.plan_figures",
    "plausibility": "front.plausible",
    "read_front": "reading.readers",
    "read_hard_points": "reading.hard_point_file",
    "read_results": "study.sweep_results",
    "read_scan": "reading.scan.scan",
    "read_screening": "outputs.documents.exports",
    "read_study": "study.study_file",
    "rule_set": "rules.ruleset",
    "rule_set_ids": "rules.ruleset",
    "save_figure": "outputs.figures.side_view:save",
    "scan_figure": "outputs.figures.scan_figure",
    "scatter_matrix": "outputs.figures.sweep_figures",
    "screen": "screening",
    "sensitivity": "study.sensitivity",
    "sensitivity_bars": "outputs.figures.sweep_figures",
    "side_view": "outputs.figures.side_view",
    "solve": "study.solve",
    "spacing": "sure.spacing",
    "sweep": "study.sweep:run_sweep",
    "tolerance": "sure.intervals",
    "tolerance_figure": "outputs.figures.tolerance_figure",
    "variant_outlines": "outputs.figures.sweep_figures:outlines",
    "what_if": "study.what_if",
    "worksheet": "outputs.writing",
    "write_annex": "outputs.writing",
    "write_checks": "outputs.pages.check_page",
    "write_comparison": "outputs.writing",
    "write_dxf": "outputs.documents.exports_dxf",
    "write_handbook": "outputs.pages.book_html",
    "write_leg": "outputs.writing",
    "write_motion": "outputs.writing",
    "write_scan": "outputs.scan_writing",
    "write_screening": "outputs.writing",
    "write_sweep": "outputs.writing",
    "write_tolerance": "outputs.writing",
    "write_worksheet": "outputs.writing",
}
"""Where each public name lives: module, and its name there where that is another."""


def __getattr__(name: str) -> Any:
    """Import a public name on first use, so that the command line starts fast."""
    if name == "profile":
        return import_module("frontcheck.profile")
    if name in _HOMES:
        home, _, own = _HOMES[name].partition(":")
        value = getattr(import_module(f"frontcheck.{home}"), own or name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'frontcheck' has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted([*__all__, "profile"])
