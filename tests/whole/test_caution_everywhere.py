"""Every output carries the caution; an output that is not tried here is found in the source.

Once made, outputs are also read for their words: each abbreviation stands beside what it is short
for where it comes first, and `frontcheck explain` knows the columns of tables and documents.

The requirement is the project's own. The outputs are read back by programs that know nothing of
this one: json, pandas, pypdf, Pillow, ezdxf and the XML and HTML readers of Python.
"""

from __future__ import annotations

import ast
import html
import io
import json
import re
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType, SimpleNamespace
from xml.etree import ElementTree as ET

import click
import ezdxf
import pandas as pd
import pytest
from click.testing import CliRunner
from lip_study import LIP_STUDY
from openpyxl import Workbook, load_workbook
from PIL import Image
from pypdf import PdfReader

import frontcheck as fc
from frontcheck.bench.saves import offers
from frontcheck.caution import CAUTION, CAUTION_SHORT
from frontcheck.cli import main
from frontcheck.errors import InputError
from frontcheck.findings.abbreviations import ABBREVIATIONS
from frontcheck.outputs.documents.exports import csv_bytes
from frontcheck.outputs.pages.book_html import handbook_html
from frontcheck.outputs.text import terminal

PACKAGE = Path(fc.__file__).parent
STUDY = LIP_STUDY.replace("variants = 512", "variants = 16")

# How every output is made. A, B: two fronts; SURVEY: one with checks; STUDY: a study; OUT: where.
COMMANDS = (
    "worksheet --stations 0,300 --heights 100:1000:100 --symmetric --out OUT",
    "worksheet --stations 0,12 --heights 4:40:4 --unit in --paper letter --name Pløver --out OUT",
    "parts DRAWING",
    "parts STEP --unit mm --part=bumper=*COVER --exclude *glass",
    "screen A --strict",
    "scan SCAN --unit m --up +y --forward -x --stations 0,300 --regions REGIONS --out OUT/a.csv",
    "scan SCAN --unit m --stations 0 --taped -1.395,-.301,.402 .058,.049,.271 1500 --out OUT/b.csv",
    "bench A B --strict --close-after 1",
    "screen A --stations",
    "screen A --findings",
    "screen BOOK --sheet sections --lines-only",
    "screen A --all --json OUT/screening.json --dxf OUT/lines.dxf",
    "screen A --lines-only --json -",
    "screen A --figures all --out OUT",
    "screen A --hard-points HARD --lines-only --out OUT",
    "screen SURVEY --correct --draws 100 --hand-tools --lines-only --out OUT",
    "screen MESH --unit mm --pitch 400 --half --lines-only",
    "describe A",
    "describe MESH --out OUT/../mesh.toml",
    "screen FRONT --lines-only",
    "leg A",
    "leg A B --strict --station 0 --json OUT/leg.json --out OUT/folder",
    "leg A --correct --json -",
    "tolerance SURVEY --draws 100 --hand-tools --json OUT/t.json --out OUT/folder",
    "tolerance SURVEY --draws 100 --correct --strict",
    "screen A --motion --motion-draws 20 --speed 30 --json OUT/struck-front.json",
    "motion A B --strict --draws 20 --json OUT/motion.json --out OUT/motion --workers 1",
    "motion A --draws 20 --person=six-year-old --correct --json -",
    "compare A B --strict",
    "compare A B --draws 100 --correct --json OUT/comparison.json --out OUT/folder",
    "what-if A --strict --lower-lip up:2 --only-at 0 --per-10mm --json OUT/w.json --out OUT/w.csv",
    "what-if A --correct --bonnet-slope steeper:1 --json -",
    "what-if MESH --unit mm --pitch 400 --half --ride-height up:5",
    "annex A B --strict --correct --motion --motion-draws 20 --speed 30 --out OUT",
    "annex A --paper letter --full --out OUT",
    "sweep STUDY --strict --workers 1 --parquet --out OUT",
    "sweep STUDY --workers 2 --threads --no-pictures --out OUT",
    "sweep --parameters",
    "solve STUDY --strict",
    "solve STUDY --json OUT/solution.json",
    "solve STUDY --json -",
    "explain",
    "explain LEG-UNDERCUT",
    "explain open_end",
    "explain lines",
    "handbook",
    "handbook uncertainty",
    "handbook --out OUT/handbook.html",
    "rules",
    "rules UN-R127-02",
    "checks",
    "checks --out OUT",
)


def library(out: Path, a: fc.Front, b: fc.Front, study: fc.Study) -> None:
    """Leave behind what the functions of the library make."""
    one, two = fc.screen(a), fc.screen(b)
    both, drawn = fc.compare(one, two), fc.tolerance(a, one.rules, draws=100)
    for name in ("front.json", "front.csv", "front"):
        fc.write_screening(one, out / name)
    fc.write_comparison(both, out / "changes.csv")
    for name in ("intervals.csv", "drawn", "drawn"):  # the second time it is brought up to date
        fc.write_tolerance(drawn, out / name)
        drawn = replace(drawn, draws=drawn.draws + 1)
    fc.write_motion(fc.motion(one, people=fc.PEOPLE[:1], draws=20), out / "struck.json")
    fc.write_leg(fc.leg([one], fc.PEOPLE[0]), out / "leg.json")
    fc.write_dxf(one.zones, out / "front.dxf")
    fc.write_worksheet(fc.worksheet([0, 300], range(100, 1000, 100)), out / "sheet")
    fc.write_checks(out / "checks")
    fc.write_annex(out / "annex", fc.screen(a, motion=fc.motion(one, draws=20)))
    fc.sweep(study, out / "sweep")
    fc.write_sweep(fc.read_results(study, out / "sweep"), out / "sweep")
    fc.save_figure(fc.overview(one), out / "overview")
    for name, make in offers(a, one, 0.0, both).items():  # what the page saves
        (out / f"page-{name}").write_bytes(make())
    for result in (a, one, both):
        page = result._repr_html_()  # what a notebook shows
        (out / f"{type(result).__name__}.html").write_text(page, "utf-8")
    fc.write_handbook(out / "handbook.html")
    (out / "explained.txt").write_text(fc.explain("ok"), "utf-8")
    (out / "no-rows.csv").write_bytes(csv_bytes(["y_mm", "line"], []))


# Functions that look like writers and leave nothing of their own, with the reason.
NO_OUTPUT = {
    "reading/solid:_LineReader.__next__": "reads",
    "reading/table:read_bytes": "reads",
    "reading/workbook:child": "tells the process that asked what stands in a spreadsheet",
    "reading/step_child:child": "hands triangles to the process that started it",
    "bench/page:Page.offers": "hands on what bench/saves makes, read above",
    "bench/server:_Headers.transform_first_chunk": "sends what the page says, with its headers",
    "bench/opened:picture_in": "hands a person's own photo back to the page",
    "bench/opened:_kept": "keeps what a browser hands over for as long as it is read",
    "cli/ending:_say": "why a command ended; nothing of a front",
    "cli/ending:_leave": "closes the terminal's stream",
    "outputs/pages/check_records:record_bytes": "keeps records in the package; no output",
    "outputs/documents/schemas:schema_bytes": "what a document may hold; part of the package",
}
# A list of file names, read back to tell ours from the user's, and nothing about a front.
NOT_OF_A_FRONT = "frontcheck-files.txt"


# What each kind of file says of what it is not.


def words(text: str) -> str:
    return " ".join(text.split())


def said_in_table(data: bytes) -> bool:
    text = data.decode("utf-8-sig")
    said = f"# caution: {CAUTION}"
    if text.startswith("# worksheet: "):
        return f'"{said}"' in text.splitlines()
    table = pd.read_csv(io.StringIO(text), comment="#")
    assert len(table.columns) > 1  # the header is found
    return said in text.splitlines() or bool((table["caution"] == CAUTION).all() and len(table))


def said_in_document(data: bytes) -> bool:
    document = json.loads(data)
    return CAUTION in (document.get("caution"), *document.get("cautions", ()))


def said_in_page(data: bytes) -> bool:
    text = re.sub(r"(?s)<(style|script|svg)\b.*?</\1>", " ", data.decode())
    return CAUTION in words(html.unescape(re.sub(r"<[^>]*>", " ", text)))


def said_in_picture(data: bytes) -> bool:
    return CAUTION in words(" ".join(ET.fromstring(data).itertext()))


def said_in_pixels(data: bytes) -> bool:
    return Image.open(io.BytesIO(data)).text.get("Description") == CAUTION


def said_on_paper(data: bytes) -> bool:
    pages = [words(page.extract_text()) for page in PdfReader(io.BytesIO(data)).pages]
    return all(CAUTION in page or CAUTION_SHORT in page for page in pages)


def said_in_drawing(data: bytes) -> bool:
    texts = ezdxf.read(io.StringIO(data.decode())).modelspace().query("MTEXT")
    return any(CAUTION in text.text for text in texts)


def said_in_workbook(data: bytes) -> bool:
    book = load_workbook(io.BytesIO(data))
    return any(CAUTION in row for page in book for row in page.iter_rows(values_only=True))


def said_in_text(data: bytes) -> bool:
    if data.startswith(b"{"):
        return said_in_document(data)
    text = words(re.sub(r"\x1b\[[0-9;]*m", "", data.decode()))
    return CAUTION in text or CAUTION_SHORT in text


SAID = {
    ".csv": said_in_table,
    ".dxf": said_in_drawing,
    ".html": said_in_page,
    ".json": said_in_document,
    ".parquet": lambda data: json.loads(data) == {"caution": CAUTION},
    ".pdf": said_on_paper,
    ".png": said_in_pixels,
    ".svg": said_in_picture,
    ".txt": said_in_text,
    ".xlsx": said_in_workbook,
}


def stand_in_for_pyarrow() -> dict[str, ModuleType]:
    """As much of the package as a table is written with; the file holds the table's metadata.

    ``pyarrow.schema(fields, metadata)`` and ``parquet.ParquetWriter(where, schema)``, from memory.
    """

    class Schema(list):
        def __init__(self, fields, metadata=None) -> None:
            super().__init__(SimpleNamespace(name=name, type=kind) for name, kind in fields)
            self.metadata = metadata

    class Writer:
        def __init__(self, where, schema) -> None:
            Path(where).write_text(json.dumps(schema.metadata))

        def __enter__(self):
            return self

        def __exit__(self, *_) -> None: ...

        def write_table(self, table) -> None: ...

    pa = ModuleType("pyarrow")
    for name in ("int64", "float64", "string"):
        setattr(pa, name, lambda name=name: name)
    pa.schema, pa.array = Schema, lambda values, _: values
    pa.table = lambda columns, **_: columns
    pq = ModuleType("pyarrow.parquet")
    pq.ParquetWriter = Writer
    return {"pyarrow": pa, "pyarrow.parquet": pq}


# Writers in the source: whatever gives bytes, calls what writes or prints, or says it is one.
WRITING = {
    "echo", "fdopen", "mkstemp", "ParquetWriter", "print", "save", "savefig", "to_csv", "to_html",
    "to_json", "to_parquet", "tofile", "write_bytes", "write_file", "write_folder", "write_text",
    "writelines",
}  # fmt: skip


MODES = {f"{way}{kind}{plus}" for way in "wax" for kind in ("", "b", "t") for plus in ("", "+")}


def writers(source: str) -> set[str]:
    """Qualified names of the functions of a module that write, print or make bytes."""
    found = set()

    def look(node: ast.AST, within: str) -> None:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
                name = f"{within}{child.name}"
                if is_writer(child):
                    found.add(name)
                look(child, f"{name}.<locals>.")
            else:
                look(child, f"{within}{child.name}." if isinstance(child, ast.ClassDef) else within)

    look(ast.parse(source), "")
    return found


def is_writer(function: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    if function.name.startswith(("write_", "save_", "_repr_")):
        return True
    if function.returns is not None and "bytes" in ast.unparse(function.returns):
        return True
    for node in ast.walk(function):
        if isinstance(node, ast.Attribute) and node.attr in ("stdout", "__stdout__"):
            return True
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            modes = (*node.args, *(k.value for k in node.keywords if k.arg == "mode"))
            given = {mode.value for mode in modes if isinstance(mode, ast.Constant)}
            if name in WRITING or (name == "open" and given & MODES):
                return True
    return False


@pytest.fixture(scope="module")
def made(geometries, tmp_path_factory):
    """Outputs by name of file, and the functions of the package that were entered meanwhile."""
    top = tmp_path_factory.mktemp("outputs")
    files = {name: top / f"{name}.csv" for name in "AB"}
    for path, name in zip(files.values(), ("plover", "avocet"), strict=True):
        lines = (geometries / f"{name}.csv").read_text("utf-8").splitlines(keepends=True)
        kept = ("#", "station", "0,", "300,", "650,")
        path.write_text("".join(line for line in lines if line.startswith(kept)), "utf-8")
    files |= {
        "BOOK": geometries / "plover.xlsx",
        "HARD": geometries / "plover-hard-points.csv",
        "DRAWING": geometries / "plover-blocks.dxf",
        "MESH": top / "plover.stl",
        "FRONT": geometries / "plover.toml",
        "STEP": geometries / "plover.step",
        "REGIONS": top / "regions.csv",
        "SCAN": geometries / "plover-scan.ply",
        "STUDY": top / "study.toml",
        "SURVEY": geometries / "plover-survey.csv",
    }
    files["STUDY"].write_text(STUDY)
    files["MESH"].write_bytes((geometries / "plover.stl").read_bytes())
    files["REGIONS"].write_text("part,x_min,x_max,z_min,z_max\nbumper,-50,200,150,640\n")
    fronts = [fc.read_front(files[name]) for name in "AB"]
    study = fc.read_study(files["STUDY"])
    handbook_html.cache_clear()  # another test of this process may have made it
    entered: set[str] = set()
    seen: set[object] = set()

    def notice(frame, event, _) -> None:
        if event == "call" and frame.f_code not in seen:
            seen.add(frame.f_code)
            path = Path(frame.f_code.co_filename)
            if path.is_relative_to(PACKAGE):
                module = path.relative_to(PACKAGE).with_suffix("").as_posix()
                entered.add(f"{module}:{frame.f_code.co_qualname}")

    def printed(out: Path, args: list[str]) -> None:
        result = CliRunner().invoke(main, args)
        assert result.exit_code in (0, 1), (args, result.output, result.exception)
        (out / "printed.txt").write_bytes(result.stdout_bytes)

    helps = [[*name, "--help"] for name in ([], *([n] for n in main.list_commands(None)))]
    with pytest.MonkeyPatch.context() as patch:
        for name, module in stand_in_for_pyarrow().items():
            patch.setitem(sys.modules, name, module)
        sys.setprofile(notice)
        try:
            for number, command in enumerate([*map(str.split, COMMANDS), *helps]):
                out = top / f"{number:02d}-{'-'.join(command[:2])}"
                out.mkdir()
                place = {**files, "OUT": out}
                printed(out, [
                    "/".join(str(place.get(part, part)) for part in word.split("/"))
                    for word in command
                ])  # fmt: skip
            patch.setattr(terminal, "style_for", lambda _: terminal.Ruled(100))
            for number, command in enumerate(("screen A --all", "rules", "explain", "leg A")):
                out = top / f"terminal-{number}"
                out.mkdir()
                printed(out, [str(files.get(word, word)) for word in command.split()])
            (top / "library").mkdir()
            library(top / "library", *fronts, study)
        finally:
            sys.setprofile(None)
    outputs = {
        path.relative_to(top).as_posix(): path.read_bytes()
        for folder in top.iterdir() if folder.is_dir()
        for path in folder.rglob("*") if path.is_file()
    }  # fmt: skip
    return outputs, entered


def test_every_output_carries_the_caution(made):
    outputs, _ = made
    assert {Path(name).suffix for name in outputs} == set(SAID)
    lacking = [
        name
        for name, data in outputs.items()
        if Path(name).name != NOT_OF_A_FRONT and not SAID[Path(name).suffix](data)
    ]
    assert lacking == []


# What an abbreviation is short for, in the words of the rules or in plain ones; own choice.
SHORT_FOR = {
    "LBRL": r"lower bumper( reference)? line",
    "UBRL": r"upper( bumper( reference)? line)?",
    "BLERL": r"bonnet( leading)? edge( reference line)?",
    "BRRL": r"bonnet rear reference line|base of the windscreen",
    "SRL": r"side reference line",
    "WAD": r"wrap-around distance|distance along the skin",
    "HIC": r"head injury criterion",
    r"p\d+": r"of 100 people|percentile|small \w+|average \w+|tall \w+",
}


def bare(text: str) -> list[str]:
    """Abbreviations that do not stand beside their words where they come first, with the place."""
    text, out = words(re.sub(r"\x1b\[[0-9;]*m", "", text)), []
    for short, spelt in SHORT_FOR.items():
        found = re.search(rf"(?<![\w-]){short}(?![A-Za-z0-9-])", text.replace("_", " "))
        if found is None:
            continue
        before, after = text[: found.start()], text[found.end() :]
        beside = re.search(rf"(?i)({spelt}) \(?$", before) or re.match(
            rf"(?i)\W{{0,3}}({spelt})|(, p\d+)*: [\d, or]+of 100 people", after
        )
        if not beside:
            out.append(f"{before[-30:]}[{found[0]}]{after[:30]}")
    return out


def test_planted_abbreviations_are_noticed() -> None:
    assert bare("Height of LBRL, the lower bumper reference line (LBRL)") != []
    assert bare("wrap-around distance and, far from it, WAD 1000") != []
    assert bare("woman p5: all of it") != []
    assert bare("LBRL: lower bumper reference line. y0_LBRL_z_mm, LEG-LBRL-LOW") == []
    assert bare("small woman (p5), p50") == []
    assert set(ABBREVIATIONS) == set(SHORT_FOR) - {r"p\d+"}


def test_abbreviations_stand_beside_their_words_first(made):
    outputs, _ = made
    screens = {name: data.decode() for name, data in outputs.items() if name.endswith(".txt")}
    shown = {name: text for name, text in screens.items() if not text.startswith("{")}
    assert len(shown) > len(COMMANDS)
    for name, data in outputs.items():
        if name.endswith("worksheet.pdf"):
            pages = PdfReader(io.BytesIO(data)).pages
            shown[name] = " ".join(page.extract_text() for page in pages)
    lacking = {name: bare(text) for name, text in shown.items()}
    assert {name: found for name, found in lacking.items() if found} == {}


# Columns and keys that say what they are in everyday words, or hold the document itself.
EVERYDAY = {
    "answer", "caution", "complete", "digest", "distance mm", "facets",
    "file", "files", "from", "from mm", "front", "front b", "frontcheck", "fronts", "group", "id",
    "input", "inputs", "kind", "largest x mm", "largest z mm", "method", "move mm", "name",
    "schema", "sd mm",
    "sentence", "settings", "sha256", "sign", "text", "title", "to", "words",
    "zones and findings",
}  # fmt: skip


def columns(outputs: dict[str, bytes]) -> set[str]:
    """Names of columns of all tables and of keys of all documents."""
    found: set[str] = set()

    def look(pairs: list[tuple[str, object]]) -> None:
        found.update(key for key, _ in pairs)

    for name, data in outputs.items():
        if name.endswith(".csv"):
            found |= set(pd.read_csv(io.BytesIO(data), comment="#", nrows=1).columns)
        elif data.startswith(b"{"):
            json.loads(data, object_pairs_hook=look)
    return found


def test_columns_of_tables_and_documents_can_be_explained(made):
    names = columns(made[0])
    assert len(names) > 300
    names = {name for name in names if re.fullmatch(r"[A-Za-z][\w.]*", name)}  # no text, no number
    unknown = set()
    for name in names:
        try:
            fc.explain(name)
        except InputError:
            unknown.add(re.sub(r"[\s_-]+", " ", name.casefold()))
    assert unknown == EVERYDAY


def test_population_risks_are_printed_by_explain_alone(made):
    """Those of Hu, Monfort & Cicchino, Journal of Safety Research 90, 2024, from memory.

    The page of checks names the paper as the source of limits of shapes, and none of its risks.
    """
    risk = re.compile(r"(?<![\d.])(43\.6|45\.4|25\.6|25\.1) ?%|[Ff]atality|Cicchino")
    outputs = {name: data for name, data in made[0].items() if not name.endswith((".png", ".xlsx"))}
    printing = {
        name
        for name, data in outputs.items()
        if risk.search(
            " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)
            if name.endswith(".pdf")
            else data.decode()
        )
    }
    assert {Path(name).name for name in printing} == {"checks.html", "checks.pdf"}
    for name in printing:
        data = outputs[name]
        pages = PdfReader(io.BytesIO(data)).pages if name.endswith(".pdf") else ()
        text = " ".join(page.extract_text() for page in pages) or data.decode()
        assert set(re.findall(risk.pattern, text)) == {""}  # of a share its number
        assert "atality" not in text
    assert len(set(risk.findall(fc.explain("pushed_or_carried")))) == 5


def test_every_writer_in_the_package_was_at_work(made):
    _, entered = made
    found = {
        f"{path.relative_to(PACKAGE).with_suffix('').as_posix()}:{name}"
        for path in PACKAGE.rglob("*.py")
        for name in writers(path.read_text("utf-8"))
    }
    assert NO_OUTPUT.keys() <= found
    assert found - entered - NO_OUTPUT.keys() == set()


def test_every_command_is_tried_with_all_that_makes_an_output():
    tried: dict[str, set[str]] = {}
    for command in COMMANDS:
        name, *rest = command.split()
        tried.setdefault(name, set()).update(rest)
    assert set(tried) == set(main.list_commands(None))
    for name, used in tried.items():
        for option in main.get_command(None, name).params:
            # A number or a word changes what is said; a switch or a path may open another way out.
            # --half, of reading a drawing or mesh, is the same in all commands.
            if getattr(option, "is_flag", False) or (
                isinstance(option, click.Option) and isinstance(option.type, click.Path)
            ):
                assert {"--half", *used} & {*option.opts}, (name, option.opts)


@pytest.mark.parametrize(
    ("source", "name"),
    [
        ("class Result:\n def _repr_svg_(self): ...", "Result._repr_svg_"),
        ("def write_notes(notes): ...", "write_notes"),
        ("def notes() -> dict[str, bytes]: ...", "notes"),
        ("def notes(path):\n path.write_text('')", "notes"),
        ("def notes(path):\n with open(path, 'w') as stream: ...", "notes"),
        ("def notes(path):\n with path.open(mode='ab') as stream: ...", "notes"),
        ("def notes():\n click.echo('')", "notes"),
        ("def notes():\n def inner():\n  print('')", "notes.<locals>.inner"),
        ("import sys\ndef notes():\n sys.stdout.write('')", "notes"),
    ],
)
def test_a_planted_writer_is_found(source, name):
    assert name in writers(source)


def test_a_reader_is_no_writer():
    assert not writers("def read(path):\n with path.open('rb') as stream: return stream.read()")


def test_a_spreadsheet_without_the_caution_is_told():
    written = io.BytesIO()
    Workbook().save(written)
    assert not said_in_workbook(written.getvalue())


@pytest.mark.parametrize(
    ("suffix", "data"),
    [
        (".csv", b"y_mm,caution\n0,\n"),
        (".csv", f"y_mm,caution\n0,{CAUTION}\n1,\n".encode()),
        (".csv", b"y_mm,caution\n"),
        (".csv", b"# worksheet: 1. As printed.\nstation_mm,height_mm,setback_mm\n"),
        (".html", f"<style>/* {CAUTION} */</style><p>Plover</p>".encode()),
        (".json", b'{"cautions": []}'),
        (".parquet", b"null"),
        (".svg", b"<svg><text>Plover</text></svg>"),
        (".txt", b"Plover\n"),
    ],
)
def test_an_output_without_the_caution_is_told(suffix, data):
    assert not SAID[suffix](data)
