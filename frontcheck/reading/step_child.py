"""In a process of its own: one STEP or IGES model becomes triangles; a model in, a GLB file out."""

import os
import sys

NO_PACKAGE, TOO_MANY = 3, 4


def child(kind: str, chord: str, angle: str, most: str) -> int:
    """Read a model from standard input; its triangles go to standard output."""
    out = os.dup(1)
    os.dup2(2, 1)  # the library talks on standard output
    sys.modules["trimesh"] = None  # type: ignore[assignment]  # not needed, and slow to import
    try:
        import cascadio
    except ModuleNotFoundError:
        return NO_PACKAGE
    glb = cascadio.load(
        sys.stdin.buffer.read(),
        "iges" if kind == "iges" else "step",
        tol_linear=float(chord),
        tol_angular=float(angle),
    )
    if len(glb) > int(most):
        return TOO_MANY
    with os.fdopen(out, "wb") as stream:
        stream.write(glb)
    return 0
