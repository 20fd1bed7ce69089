"""Files in, a `Front` out: offset tables, drawings, meshes, and the form to measure with."""
