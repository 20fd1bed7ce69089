"""Seeded faults in good files, and nasty contours: `python tests/fuzzed.py SECONDS SEED` for long.

Whatever is read ends in success or in a `FrontcheckError` that names the file; every command ends
with 0, 1 or 2, changes no input and leaves no half of a file.
"""

from __future__ import annotations

import io
import re
import shutil
import struct
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from contextlib import suppress
from functools import cache
from pathlib import Path

import click
import ezdxf
import numpy as np
import trimesh
from click.testing import CliRunner
from spreadsheets import open_document, workbook

import frontcheck as fc
from frontcheck.cli import main
from frontcheck.errors import FrontcheckError

GEOMETRIES = Path(__file__).parents[1] / "geometries"
FRONT = np.array([(400, 220), (120, 210), (30, 300), (55, 420), (10, 560), (40, 760), (150, 850),
                  (1000, 980), (1500, 1300)], dtype=float)  # fmt: skip
NUMBER = re.compile(rb"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
TOKENS = (b"nan", b"inf", b"-inf", b"1e308", b"-1e308", b"-0", b"", b"0", b"-1", b"1e-9",
          b"9" * 40, b"99999999999999999999", "\u0664\u0665".encode(), "\u00b2".encode(), b"0x10",
          b"1_000", b"true", b"\"text\"", b"[]", b"{}", b"null", b"1,5", b"--1", b"2e6", b"\xff",
          b"1979-05-27", b"'", b"\x00", b"\x1b[31m", b"12:30", b"1e5", b"-1e5", b"0.5")  # fmt: skip

# --- good files -------------------------------------------------------------------------------


def triangles():
    """A swept front, (m, 3, 3) [mm]."""
    y = np.linspace(-700.0, 700.0, 5)
    grid = np.empty((5, len(FRONT), 3))
    grid[..., 0], grid[..., 1], grid[..., 2] = FRONT[:, 0], y[:, None], FRONT[:, 1]
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    return np.stack([np.stack([a, b, c], 2), np.stack([a, c, d], 2)], 2).reshape(-1, 3, 3)


def table(head=b"station_mm,height_mm,setback_mm,part\n", keys=b""):
    parts = (b"underside", b"bumper", b"bumper", b"bumper", b"bumper", b"bonnet", b"bonnet",
             b"bonnet", b"windscreen")  # fmt: skip
    rows = b"".join(
        b"%d,%g,%g,%s\n" % (y, z, x + y * y / 5200, part)
        for y in (0, 300, 650)
        for (x, z), part in zip(FRONT, parts, strict=True)
    )
    return (b"# name: Plover\n# datum: common\n# symmetric: yes\n# height_u: 2 mm\n"
            b"# setback_u: 1.5 mm\n" + keys + head + rows)  # fmt: skip


def polar():
    """Ranges and angles from one point."""
    seen = FRONT - (-900.0, 620.0)
    rows = b"".join(
        b"0,%.4f,%.5f\n" % (r, a)
        for r, a in zip(np.hypot(*seen.T), np.degrees(np.arctan2(*seen.T[::-1])), strict=True)
    )
    return (b"# datum: common\n# symmetric: yes\n# origin: -900 mm, 620 mm\n# range_u: 1.5 mm\n"
            b"# angle_u_deg: 0.1\nstation_mm,range_mm,angle_deg\n" + rows)  # fmt: skip


def sheet_rows():
    head = [["name", "Plover"], ["datum", "common"], ["symmetric", "yes"]]
    rows = [[float(y), float(z), float(x)] for y in (0, 300) for x, z in FRONT]
    return [*head, ["station_mm", "height_mm", "setback_mm"], *rows]


def exported(kind, **options):
    mesh = triangles()
    points = mesh.reshape(-1, 3)
    if kind == "glb":
        points = np.column_stack([-points[:, 1], points[:, 2], -points[:, 0]]) / 1000.0
    faces = np.arange(len(points)).reshape(-1, 3)
    return trimesh.Trimesh(points, faces, process=False).export(file_type=kind, **options)


def stl(mesh):
    records = np.zeros(len(mesh), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    records["v"] = mesh
    return b"front".ljust(80) + struct.pack("<I", len(mesh)) + records.tobytes()


def stl_text(mesh):
    corners = ["".join(f"vertex {x:g} {y:g} {z:g}\n" for x, y, z in t) for t in mesh.tolist()]
    facets = [f"facet normal 0 0 0\nouter loop\n{three}endloop\nendfacet\n" for three in corners]
    return ("solid a\n" + "".join(facets) + "endsolid a\n").encode()


def obj(mesh):
    lines = ["o bumper", *(f"v {x:g} {y:g} {z:g}" for x, y, z in mesh.reshape(-1, 3).tolist())]
    lines += [f"f {i} {i + 1} {i + 2}" for i in range(1, len(mesh) * 3, 3)]
    return ("\n".join(lines) + "\n").encode()


def dxf():
    drawing = ezdxf.new("R2000")
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    block = drawing.blocks.new("nose")
    block.add_line((FRONT[5][0], FRONT[5][1]), (FRONT[6][0], FRONT[6][1]))
    for y in (0, 300):
        layer = {"layer": f"Y{y}"}
        space.add_lwpolyline([tuple(p) for p in FRONT[:5]], dxfattribs=layer)
        space.add_line(tuple(FRONT[4]), tuple(FRONT[5]), dxfattribs=layer)
        space.add_blockref("nose", (0, 0), dxfattribs=layer)
        space.add_open_spline([(*p, 0.0) for p in FRONT[6:]], degree=2, dxfattribs=layer)
    out = io.StringIO()
    drawing.write(out)
    return out.getvalue().encode()


@cache
def good():
    """Good files by name; what stands beside them has a name of its own."""
    study = (GEOMETRIES / "nose-study.toml").read_bytes().replace(b"2048", b"16")
    shapes = {
        "table.csv": table(), "polar.csv": polar(),
        "survey.csv": (GEOMETRIES / "plover-survey.csv").read_bytes(),
        "book.xlsx": workbook(sheet_rows()), "book.ods": open_document(sheet_rows()),
        "drawing.dxf": dxf(), "binary.stl": stl(triangles()), "text.stl": stl_text(triangles()),
        "mesh.obj": obj(triangles()), "mesh.ply": exported("ply"),
        "text.ply": exported("ply", encoding="ascii"), "mesh.glb": exported("glb"),
        "front.toml": (GEOMETRIES / "plover.toml").read_bytes()
        .replace(b"plover.stl", b"beside.stl").replace(b"plover-hard-points.csv", b"points.csv")
        .replace(b"[0, 100, 200, 300, 400, 500, 580, 650, 710, 760]", b"[0, 300]"),
        "model.step": (GEOMETRIES / "plover.step").read_bytes(),
    }  # fmt: skip
    others = {
        "points.csv": (GEOMETRIES / "plover-hard-points.csv").read_bytes(),
        "study.toml": study.replace(b"samples = 256", b"samples = 8"),
        "screening.json": document(),
    }
    return shapes, others


def document():
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "table.csv"
        path.write_bytes(table())
        out = Path(folder) / "screening.json"
        fc.write_screening(fc.screen(fc.read_front(path)), out)
        return out.read_bytes()


# --- faults -----------------------------------------------------------------------------------


def _bytes(content, rng):
    out = bytearray(content)
    for _ in range(int(rng.integers(1, 12))):
        at = int(rng.integers(0, max(len(out), 1)))
        kind = rng.integers(0, 5)
        if kind == 0 and out:
            out[at] = int(rng.integers(0, 256))
        elif kind == 1:
            out[at:at] = rng.integers(0, 256, int(rng.integers(1, 9)), dtype=np.uint8).tobytes()
        elif kind == 2:
            del out[at : at + int(rng.integers(1, 200))]
        elif kind == 3:
            out[at:at] = out[at : at + int(rng.integers(1, 400))]
        elif out:
            out[at] ^= 1 << int(rng.integers(0, 8))
    return bytes(out)


def _cut(content, rng):
    return content[: int(rng.integers(0, len(content) + 1))]


def _lines(content, rng):
    lines = content.split(b"\n")
    for _ in range(int(rng.integers(1, 5))):
        i, j = (int(k) for k in rng.integers(0, len(lines), 2))
        kind = rng.integers(0, 5)
        if kind == 0:
            del lines[i]
        elif kind == 1:
            lines.insert(j, lines[i])
        elif kind == 2:
            lines[i], lines[j] = lines[j], lines[i]
        elif kind == 3:
            lines.insert(i, b"")
        else:
            words = lines[i].split(b" ")
            lines[i] = b" ".join(words[: int(rng.integers(0, len(words) + 1))])
        lines = lines or [b""]
    return b"\n".join(lines)


def _tokens(content, rng):
    found = list(NUMBER.finditer(content))
    for _ in range(int(rng.integers(1, 4))):
        if found:
            token = TOKENS[int(rng.integers(0, len(TOKENS)))]
            span = found.pop(int(rng.integers(0, len(found)))).span()
            found = [one for one in found if one.end() <= span[0]] or found[:0]
            content = content[: span[0]] + token + content[span[1] :]
    return content


def _words(content, rng):
    found = list(re.finditer(rb"[A-Za-z_]{2,}", content))
    if not found:
        return content
    one, other = (found[int(k)] for k in rng.integers(0, len(found), 2))
    return content[: one.start()] + other[0] + content[one.end() :]


def _inner(content, rng):
    """A fault in a member of a zip file, or in the description of a GLB file."""
    if content[:4] == b"glTF":
        size = int.from_bytes(content[12:16], "little")
        text = _tokens(content[20 : 20 + size], rng)
        text += b" " * (-len(text) % 4)
        rest = content[20 + size :]
        head = struct.pack("<4sIII4s", b"glTF", 2, 20 + len(text) + len(rest), len(text), b"JSON")
        return head + text + rest
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        names = old.namelist()
        chosen = names[int(rng.integers(0, len(names)))]
        for name in names:
            data = old.read(name)
            how = FAULTS[int(rng.integers(0, len(FAULTS)))]
            new.writestr(name, how(data, rng) if name == chosen else data)
    return out.getvalue()


FAULTS = (_bytes, _cut, _lines, _tokens, _tokens, _words)


def damaged(name, content, rng):
    """A good file with a fault or two."""
    held = name.endswith((".xlsx", ".ods", ".glb"))
    for _ in range(int(rng.integers(1, 3))):
        if held and rng.random() < 0.6:
            with suppress(Exception):  # a fault before may have made it no such file
                content = _inner(content, rng)
            continue
        content = FAULTS[int(rng.integers(0, len(FAULTS)))](content, rng)
    return content


# --- nasty contours, legal or refused -----------------------------------------------------------


def contour(rng):
    """A contour that touches, repeats, spikes, steps, runs level, or lies far away."""
    points = [list(p) for p in FRONT + rng.normal(0.0, 5.0, FRONT.shape)]
    for _ in range(int(rng.integers(1, 4))):
        i = int(rng.integers(1, len(points) - 1))
        x, z = points[i]
        kind = int(rng.integers(0, 14))
        if kind == 0:  # it touches itself at one point
            points[i : i + 1] = [[x, z], [x + 30, z + 5], [x + 40, z + 20], [x, z]]
        elif kind == 1:
            points.insert(i, [x, z])
        elif kind == 2:  # a spike without width
            points[i : i + 1] = [[x, z], [x - 50, z], [x, z + 1e-9]]
        elif kind == 3:
            points.insert(i, [x, points[i - 1][1]])
        elif kind == 4:
            points.insert(i, [points[i - 1][0], z])
        elif kind == 5:
            points.insert(i + 1, [x + 1e-9, z + 1e-9])
        elif kind == 6:
            points = [[a + 1e6, b] for a, b in points]
        elif kind == 7:
            points = [[a - 3000.0, b] for a, b in points]
        elif kind == 8:
            points.append(list(points[0]))
        elif kind == 9:  # it runs forward
            points = [[-a, b] for a, b in points]
        elif kind == 10:  # touches an earlier stretch
            middle = [(points[i][k] + points[i - 1][k]) / 2 for k in (0, 1)]
            points.append(middle)
        elif kind == 11:
            points = points[: int(rng.integers(1, len(points)))]
        elif kind == 12:
            points = [[round(a, -2), round(b, -2)] for a, b in points]
        else:
            points = points[::-1]
        if len(points) < 3:
            break
    return points


def nasty_table(rng):
    """A table of nasty contours, stations near, equal or out of order."""
    ys = np.sort(rng.choice([0.0, 1e-9, 1.0, 100.0, 300.0, 650.0, -100.0, 1500.0, 5000.0],
                            int(rng.integers(1, 5)), replace=bool(rng.random() < 0.1)))  # fmt: skip
    same = contour(rng)
    rows = ""
    for y in ys.tolist():
        points = same if rng.random() < 0.5 else contour(rng)
        rows += "".join(f"{y!r},{z!r},{x!r}\n" for x, z in np.array(points).tolist())
    half = "yes" if rng.random() < 0.6 else "no"
    datum = "common" if rng.random() < 0.8 else "local"
    head = f"# datum: {datum}\n# symmetric: {half}\n# height_u: 2 mm\n# setback_u: 1.5 mm\n"
    return (head + "station_mm,height_mm,setback_mm\n" + rows).encode()


# --- trials -----------------------------------------------------------------------------------

OPTIONS = {".stl": {"unit": "mm", "pitch": 300.0}, ".obj": {"unit": "mm", "pitch": 300.0},
           ".ply": {"unit": "mm", "pitch": 300.0}, ".glb": {"pitch": 300.0},
           ".step": {"pitch": 300.0}}  # fmt: skip


def named(path, said):
    """Whether a message names the file, or one that it names, or asks for an option."""
    said = said.replace("\n", "")
    return "no uncertainty" in said or any(one.name in said for one in path.parent.iterdir())


class Trials:
    """Runs faulty files through readers and commands, and keeps what ends as nothing should."""

    def __init__(self, folder, seed):
        self.folder, self.rng = Path(folder), np.random.default_rng(seed)
        self.ran, self.refused, self.faults, self.last = Counter(), Counter(), [], None
        self.shapes, self.others = good()
        (self.folder / "beside.stl").write_bytes(self.shapes["binary.stl"])
        (self.folder / "points.csv").write_bytes(self.others["points.csv"])
        (self.folder / "table.csv").write_bytes(self.shapes["table.csv"])

    def _written(self, name, content):
        path = self.last = self.folder / f"f{sum(self.ran.values())}" / name
        path.parent.mkdir()
        path.write_bytes(content)
        for other in ("beside.stl", "points.csv"):
            if name == "front.toml":
                shutil.copy(self.folder / other, path.parent / other)
        return path

    def _done(self, path, content, what, problem):
        if path.read_bytes() != content:
            problem = "the input was changed"
        left = [p.name for p in path.parent.rglob(".frontcheck-new-*")]
        if left:
            problem = f"left behind: {left}"
        if problem is None:
            shutil.rmtree(path.parent)
        else:
            self.faults.append((what, str(path), problem))

    def reader(self, name=None, content=None):
        """Read one damaged file through the public functions."""
        every = {**self.shapes, **self.others}
        if name is None:
            names = [n for n in every if n != "model.step"]
            name = names[int(self.rng.integers(0, len(names)))]
        if content is None:
            content = damaged(name, every[name], self.rng)
        path = self._written(name, content)
        problem = None
        self.ran[f"read {name}"] += 1
        try:
            if name == "study.toml":
                fc.read_study(path)
            elif name == "points.csv":
                fc.read_hard_points(path)
            elif name == "screening.json":
                fc.read_screening(path)
            else:
                front = fc.read_front(path, **OPTIONS.get(path.suffix, {}))
                fc.plausibility(front)
        except FrontcheckError as error:
            self.refused[f"read {name}"] += 1
            if not named(path, str(error)):
                problem = f"does not name the file: {error}"
        except Exception:  # noqa: BLE001, that is what is looked for
            problem = traceback.format_exc()
        self._done(path, content, f"read {name}", problem)

    def command(self, name=None, content=None, words=None):
        """Run one damaged file through a command."""
        every = {**self.shapes, **self.others}
        if name is None:
            names = [n for n in every if n not in {"model.step", "screening.json"}]
            name = names[int(self.rng.integers(0, len(names)))]
        if content is None:
            content = damaged(name, every[name], self.rng)
        path = self._written(name, content)
        words = words or self._words(name, path)
        what = " ".join(str(word) for word in words)
        self.ran[f"{words[0]} {name}"] += 1
        ended = CliRunner().invoke(main, [str(word) for word in words])
        problem = None
        said = ended.output
        if ended.exit_code not in {0, 1, 2}:
            problem = f"exit {ended.exit_code}: {said[-1500:]}"
        elif ended.exit_code == 2:
            self.refused[f"{words[0]} {name}"] += 1
            if "Usage" not in said and not named(path, said):
                problem = f"does not name the file: {said[-500:]}"
        if "Traceback" in said:
            problem = said[-1500:]
        self._done(path, content, what, problem)

    def _words(self, name, path):
        given = [
            word
            for key, value in OPTIONS.get(path.suffix, {}).items()
            for word in (f"--{key}", f"{value}")
        ]
        beside = self.folder / "table.csv"
        if name == "study.toml":
            command = ("sweep", "solve")[int(self.rng.integers(0, 2))]
            more = ["--workers", "1"] if command == "sweep" else []
            return [command, path, "--out", path.parent / "out", *more]
        if name == "points.csv":
            return ["screen", beside, "--hard-points", path]
        plain = path.suffix in {".csv", ".xlsx", ".ods", ".toml"}
        choices = [
            ["screen", path, "--lines-only", "--out", path.parent / "out", *given],
            ["screen", path, "--all", *given],
            ["screen", path, "--json", path.parent / "a.json", *given],
            ["screen", path, "--dxf", path.parent / "a.dxf", "--strict", *given],
            ["describe", path, "--out", path.parent / "new.toml"],
        ]
        if plain or not given:
            choices += [
                ["compare", path, beside, "--json", path.parent / "a.json"],
                ["leg", path, "--station", "0", "--draws", "100"],
                ["tolerance", path, "--draws", "100"],
                ["compare", beside, path],
                ["screen", path, "--draws", "100", "--correct"],
                ["motion", path, "--people", "p50"],
            ]
        if path.suffix in {".stl", ".obj", ".ply", ".glb", ".dxf"}:
            choices.append(["parts", path])
        if path.suffix in {".stl", ".obj", ".ply"}:
            choices.append(["scan", path, "--unit", "mm", "--out", path.parent / "scan.csv"])
        return choices[int(self.rng.integers(0, len(choices)))]

    def nasty(self, *, screened=True):
        """Screen nasty contours in full."""
        content = nasty_table(self.rng)
        path = self._written("nasty.csv", content)
        self.ran["nasty"] += 1
        problem = None
        try:
            front = fc.read_front(path)
            if screened:
                result = fc.screen(front)
                result.to_dict()
        except FrontcheckError:
            self.refused["nasty"] += 1
        except Exception:  # noqa: BLE001, that is what is looked for
            problem = traceback.format_exc()
        self._done(path, content, "nasty", problem)


def long_run(seconds, seed):
    """Try for some time, and say what was found."""
    folder = Path(tempfile.mkdtemp(prefix="fuzzed-"))
    trials, end, shown = Trials(folder, seed), time.monotonic() + seconds, 0
    while time.monotonic() < end:
        kind = trials.rng.random()
        started = time.process_time()
        (trials.reader if kind < 0.6 else trials.command if kind < 0.8 else trials.nasty)()
        if time.process_time() - started > 15.0:
            click.echo(f"{time.process_time() - started:.0f} s for one of {trials.last}")
        for what, path, problem in trials.faults[shown:]:
            click.echo(f"--- {what} [{path}]\n{problem[-1200:]}")
        shown = len(trials.faults)
    click.echo(f"{sum(trials.ran.values())} inputs, {sum(trials.refused.values())} refused, "
          f"{len(trials.faults)} faults; kept in {folder}")  # fmt: skip


if __name__ == "__main__":
    long_run(float(sys.argv[1]), int(sys.argv[2]))
