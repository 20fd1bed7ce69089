"""Pedestrian-protection reference lines and a geometry screening of vehicle fronts."""

__version__ = "0.1.0"
