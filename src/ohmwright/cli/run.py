"""The entry point: runs a command and says what went wrong, where, why and what to try."""

from __future__ import annotations

import sys

from ohmwright.cli.elsewhere import page_with
from ohmwright.errors import OhmwrightError


def main() -> None:
    """Run; exit code 1 for bad data or a refusal, 2 for wrong usage. A traceback only with ``--debug``."""
    debug = "--debug" in sys.argv
    sys.argv = [word for word in sys.argv if word != "--debug"]
    try:
        if sys.argv[1:2] == ["page"]:
            sys.exit(page_with(sys.argv[2:]))
        # the page is a program of its own and does not wait for the other commands, which take seconds to load
        from ohmwright.cli.commands import app

        app(prog_name="ohmwright")
    except OhmwrightError as error:
        if debug:
            raise
        print(error, file=sys.stderr)
        sys.exit(1)
    except KeyboardInterrupt:
        print("Stopped. Everything entered is kept.", file=sys.stderr)
        sys.exit(130)
