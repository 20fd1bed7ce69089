"""A scan in any pose: its ground, centre plane, direction and sections."""
