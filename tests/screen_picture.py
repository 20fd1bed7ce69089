"""Make the README's picture of the first screen: screen_picture.py [FILE]."""

from __future__ import annotations

import sys
from pathlib import Path

from click.testing import CliRunner
from matplotlib.figure import Figure

from frontcheck.cli import main as frontcheck
from frontcheck.outputs.figures.canvas import INK, house_style
from frontcheck.outputs.figures.side_view import save

COMMAND = "screen geometries/plover.csv"


def main(file: str = "reports/screen/first-screen.png") -> None:
    """Draw what the command prints in a terminal 100 letters wide, as it stands there."""
    result = CliRunner(env={"COLUMNS": "100"}).invoke(frontcheck, COMMAND.split())
    assert result.exit_code == 0, result.output
    lines = [f"$ frontcheck {COMMAND}", "", *result.output.rstrip().splitlines()]
    with house_style():
        figure = Figure(figsize=(8.0, 0.165 * (len(lines) + 2)))
        words = {"family": "DejaVu Sans Mono", "fontsize": 9.2, "linespacing": 1.28}
        figure.text(0.02, 0.985, "\n".join(lines), color=INK, va="top", **words)
    Path(file).parent.mkdir(parents=True, exist_ok=True)
    save(figure, Path(file).with_suffix(""), ["png"])


if __name__ == "__main__":
    main(*sys.argv[1:])
