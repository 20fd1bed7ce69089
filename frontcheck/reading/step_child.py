"""The process that turns one STEP or IGES model into triangles: a model in, a GLB file out.

Run as a file and never imported: it knows nothing of frontcheck and keeps to the limits it is
given, whatever the model holds and whatever becomes of the process that started it.
"""

import os
import signal
import sys

NO_PACKAGE, TOO_MANY = 3, 4


def keep_limits(seconds: int, memory: int, output: int, parent: int) -> None:
    """Die with the parent, at the end of the time, and beyond the memory."""
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG: killed when the parent ends
        if os.getppid() != parent:
            sys.exit(1)
    if sys.platform != "win32":
        import resource

        # Python would never be asked while the library works: the kernel ends this process.
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(seconds)
        for kind, most in (
            (resource.RLIMIT_AS, memory),
            (resource.RLIMIT_FSIZE, output),
            (resource.RLIMIT_CORE, 0),
        ):
            _, hard = resource.getrlimit(kind)
            own = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(kind, (own, hard))


def main() -> int:
    """Read a model from standard input; its triangles go to standard output."""
    kind, chord, angle, seconds, memory, output, parent = sys.argv[1:]
    keep_limits(int(seconds), int(memory), int(output), int(parent))
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
    if len(glb) > int(output):
        return TOO_MANY
    with os.fdopen(out, "wb") as stream:
        stream.write(glb)
    return 0


if __name__ == "__main__":
    sys.exit(main())
