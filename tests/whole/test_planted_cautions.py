"""What is known to be wrong with an input is said by every output of it, and by no other.

Inputs are the demonstration front with one line of its header changed; the table says which output
must say which sentence. Whatever is not in the table must not be said.
"""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from frontcheck.cli import main

HEADERS = {
    "plain": {},
    "local": {"datum": "local"},
    "slope": {"ground_slope_deg": "1"},
    "tilt": {"square_tilt_deg": "1.5"},
    "along": {"error_length": "80 mm"},
}
SENTENCES = {
    "local": "datum: local",
    "slope": "The ground sloped by 1 deg",
    "tilt": "The square was inclined by 1.5 deg",
    "along": "over an error length of 80 mm",
}
IN_HAND = {"slope", "tilt"}  # Errors that are in every number until they are taken out
OUTPUTS = {
    "first screen": IN_HAND,
    "stations": IN_HAND | {"local"},
    "lines only": IN_HAND | {"local"},
    "document": IN_HAND | {"local"},
    "annex": IN_HAND | {"local"},
    "comparison, as A": IN_HAND | {"local"},
    "comparison, as B": IN_HAND | {"local"},
    "tolerance": IN_HAND | {"along"},
    "corrected": {"local"},
}


def said(out: str, file, geometries, tmp_path) -> str:
    other, made = geometries / "avocet.csv", tmp_path / "made"
    command = {
        "first screen": ["screen", file],
        "stations": ["screen", file, "--stations"],
        "lines only": ["screen", file, "--lines-only"],
        "document": ["screen", file, "--json", made],
        "annex": ["annex", file, "--out", made],
        "comparison, as A": ["compare", file, other],
        "comparison, as B": ["compare", other, file],
        "tolerance": ["tolerance", file, "--draws", "100"],
        "corrected": ["screen", file, "--correct", "--stations"],
    }[out]
    done = CliRunner().invoke(main, [str(part) for part in command], env={"COLUMNS": "120"})
    assert done.exit_code in {0, 1}, done.output
    text = done.stdout
    if out == "document":
        text = " ".join(json.loads(made.read_text("utf-8"))["cautions"])
    elif out == "annex":
        text = re.sub(r"<[^>]+>", " ", next(made.glob("*.html")).read_text("utf-8"))
    return " ".join(text.split())


@pytest.mark.parametrize("planted", HEADERS)
@pytest.mark.parametrize("out", OUTPUTS)
def test_what_is_wrong_is_said_where_it_matters_and_nowhere_else(
    out, planted, geometries, tmp_path
) -> None:
    rows = (geometries / "plover.csv").read_text("utf-8").splitlines()
    given = HEADERS[planted]
    rows = [row for row in rows if not row.startswith(tuple(f"# {key}:" for key in given) or "\0")]
    file = tmp_path / "planted.csv"
    file.write_text("".join(f"# {k}: {v}\n" for k, v in given.items()) + "\n".join(rows) + "\n")
    text = said(out, file, geometries, tmp_path)
    found = {name for name, sentence in SENTENCES.items() if sentence in text}
    assert found == {planted} & OUTPUTS[out]
