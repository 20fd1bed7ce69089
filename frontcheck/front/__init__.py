"""A vehicle front: its sections, how they were measured, and its attitude."""
