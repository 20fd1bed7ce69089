"""Sections with closed-form lines, made from the definitions and plain trigonometry."""

from __future__ import annotations

import math

import numpy as np


def sind(degrees: float) -> float:
    """Sine of an angle in degrees."""
    return math.sin(math.radians(degrees))


def cosd(degrees: float) -> float:
    """Cosine of an angle in degrees."""
    return math.cos(math.radians(degrees))


def tand(degrees: float) -> float:
    """Tangent of an angle in degrees."""
    return math.tan(math.radians(degrees))


def arc(
    centre: tuple[float, float], radius: float, low_deg: float, high_deg: float, facets: int
) -> np.ndarray:
    """Points of the front of a circle, by the angle of the outward normal above horizontal."""
    angle = np.radians(np.linspace(low_deg, high_deg, facets + 1))
    return np.column_stack([centre[0] - radius * np.cos(angle), centre[1] + radius * np.sin(angle)])


def chord(radius: float, low_deg: float, high_deg: float, facets: int) -> float:
    """Length of one facet of such an arc."""
    return 2.0 * radius * sind((high_deg - low_deg) / facets / 2.0)
