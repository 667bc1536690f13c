"""``python -m ohmwright.practice``: play the bench."""

from __future__ import annotations

import argparse
import secrets
import sys

from ohmwright.errors import OhmwrightError
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards, chosen, faults
from ohmwright.practice.serve import serve
from ohmwright.practice.world import World


def main() -> int:
    """Read the options and answer until standard input closes."""
    options = _options().parse_args()
    try:
        if options.list:
            _list()
            return 0
        seed = options.seed if options.seed is not None else secrets.randbelow(999_999) + 1
        board, fault = chosen(options.board, options.fault, seed)
        serve(World(board, fault, seed, running=not options.resting))
    except OhmwrightError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    return 0


def _options() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        "python -m ohmwright.practice", description="A board with a hidden fault on a bench."
    )
    parser.add_argument("--board", default="", help="a name from --list or a file; else drawn")
    parser.add_argument("--fault", default="random", help="a name from --list, a file, random, or none")
    parser.add_argument("--seed", type=int, help="draws all that is left open, true values and meter errors")
    parser.add_argument("--resting", action="store_true", help="switching converters stay off, however they are fed")
    parser.add_argument("--list", action="store_true", help="list boards and faults")
    return parser


def _list() -> None:
    for name, path in boards().items():
        sys.stdout.write(f"board {name}: {read_board_json(path).name}\n")
    for name in faults():
        sys.stdout.write(f"fault {name}\n")


if __name__ == "__main__":
    sys.exit(main())
