"""Exact contact of tools with contours: straight edge, taut tape, sphere. Arrays only."""
