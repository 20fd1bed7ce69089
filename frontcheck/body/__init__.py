"""A standing person as a chain of bodies in one plane, struck by a front."""
