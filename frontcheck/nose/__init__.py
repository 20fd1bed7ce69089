"""A vehicle nose from trade dimensions: arcs and tangents, cut into facets where needed."""

from frontcheck.nose.dimensions import DIMENSIONS, Dimension, Nose
from frontcheck.nose.facets import Facets
from frontcheck.nose.shape import (
    NoseBatch,
    NoseShape,
    facets_for,
    nose_batch,
    nose_front,
    nose_shape,
)

__all__ = [
    "DIMENSIONS",
    "Dimension",
    "Facets",
    "Nose",
    "NoseBatch",
    "NoseShape",
    "facets_for",
    "nose_batch",
    "nose_front",
    "nose_shape",
]
