"""How tests start a command that they will stop."""

# Whoever starts the tests may have ignored stops, which what is started would inherit.
STOPPABLE = (
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from frontcheck.cli import main; main(prog_name='frontcheck')"
)
