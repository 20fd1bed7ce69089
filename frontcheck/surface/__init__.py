"""Side sections and the surface they span."""
