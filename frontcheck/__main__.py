"""``python -m frontcheck`` is the command line."""

from frontcheck.cli import main

if __name__ == "__main__":
    main(prog_name="frontcheck")
