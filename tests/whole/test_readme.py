"""The commands and the Python of the README run, and give what it says."""

from __future__ import annotations

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
