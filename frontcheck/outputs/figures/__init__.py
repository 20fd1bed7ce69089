"""Figures, all with ``ax=None`` in and axes out."""
