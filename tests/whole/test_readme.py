"""The commands and the Python of the README run, and give what it says."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path

from fences import broken_links, fences, run_page

from frontcheck.cli import main

README = Path(__file__).resolve().parents[2] / "README.md"
TEXT = README.read_text("utf-8")


def test_it_says_what_comes_out(tmp_path) -> None:
    ran = run_page(TEXT, tmp_path)
    assert ran.commands >= sum(fence.language == "sh" for fence in fences(TEXT)) > 1


def test_links_lead_somewhere() -> None:
    assert broken_links(README) == []


def test_every_command_is_named() -> None:
    missing = [name for name in main.list_commands(None) if f"frontcheck {name}" not in TEXT]
    assert missing == []


def test_it_stays_on_one_page() -> None:
    assert len(TEXT.splitlines()) <= 150


def test_how_exact_and_how_sure_is_what_the_page_of_checks_says() -> None:
    records = json.loads(files("frontcheck.outputs.pages").joinpath("records.json").read_text())
    found = {check["id"]: check for check in records["checks"]}
    said = TEXT.partition("## How sure it is")[2].partition("\n## ")[0].rpartition("```\n")[2]
    shares = re.findall(r"\b0\.\d+", said)
    ids = ("interval-coverage-single", "interval-coverage-together")
    for share, check in zip(shares, ids, strict=True):
        digits = len(share.partition(".")[2])
        assert f"{found[check]['worst']['ours']:.{digits}f}" == share
    edges = found["contours-straight-edge"]
    assert "straight edges on 500 random contours" in said
    assert "500 random contours" in edges["quantity"]
    assert f"within {edges['worst']['tolerance']:g} mm".replace("e-0", "e-") in said
    assert edges["failing"] == 0
