"""Zones of a front: bumper corners and test area, thirds, headform areas, candidate points."""
