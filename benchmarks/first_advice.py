"""The first advice of a process that knows nothing yet: how long, how much memory, and what looking at all would add.

    PYTHONPATH=src:. python benchmarks/first_advice.py
    PYTHONPATH=src:. python benchmarks/first_advice.py --nets 60 200 --runs 5

Every run is a process of its own, from its start to the first advice on a generated board whose entries are described
and of which nothing is read yet. Its time is told beside that of a process that only imports the libraries. The share
is that of the advice in what the best test tells a minute, all of it weighed with the limits on how many places are
looked at lifted (`FULL`).
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ohmwright.formats.board_json import board_to_json, read_board_json

GOALS = {60: 0.3, 200: 1.0, 2000: 5.0}
"""Nets, and what the first advice is to take at most. [1], [s]"""
MOST_BYTES = 2**30
SHARE = 0.95
LIBRARIES = "import numpy, scipy.sparse, scipy.special"
FULL = 10**6
"""Places weighed when all are. [1]"""


def child(path: Path, full: bool) -> None:
    """Think once over the board in that file, and say what came of it."""
    from ohmwright import bootstrap
    from ohmwright.facts import EntryFact, Facts, Symptom
    from ohmwright.planning import candidates, worth

    if full:
        candidates.MOST_NETS = candidates.HALF_READ = candidates.MOST_PAIRS = candidates.MOST_JUNCTIONS = FULL
        worth.REFINED = FULL
    board = read_board_json(path)
    entries = board.entries or (board.ground,)
    facts = Facts(entries=tuple(EntryFact(net, None, True, True) for net in entries), symptom=Symptom.DEAD)
    advice = bootstrap.desk_at(memory=True, author="bench").engine.think(board, facts).advice
    rates = {test.title: test.bits / test.minutes for test in advice.tests if not test.gate}
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(json.dumps({"rates": rates, "bytes": memory, "stop": advice.stop}))


def seconds_of(words: Sequence[str], runs: int, folder: Path) -> tuple[float, str]:
    """Median time of some fresh processes on the wall clock [s], and what the last one said.

    Bytecode is kept in that folder, as it is for a user from the second start on.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment = kept | {"PYTHONPYCACHEPREFIX": str(folder / "bytecode")}
    times, said = [], ""
    for _ in range(runs):
        began = time.perf_counter()
        done = subprocess.run([sys.executable, *words], check=True, capture_output=True, text=True, env=environment)
        times.append(time.perf_counter() - began)
        said = done.stdout
    return statistics.median(times), said


def row(family: str, nets: int, runs: int, folder: Path) -> dict[str, Any]:
    """One board: times, memory and share."""
    from judge.cases import exam_at

    board = exam_at(family, 0, f"first-{nets}", nets=(nets, nets)).board
    path = folder / f"{family}-{nets}.json"
    path.write_text(json.dumps(board_to_json(board)), encoding="utf-8")
    own = [__file__, "--child", str(path)]
    seconds_of(own, 1, folder)  # then the files of both are compiled and in memory
    took, said = seconds_of(own, runs, folder)
    bare, _ = seconds_of(["-c", LIBRARIES], runs, folder)
    first, all_of_it = json.loads(said), json.loads(seconds_of([*own, "--full"], 1, folder)[1])
    chosen = next(iter(first["rates"]), "")
    best = max(all_of_it["rates"].values(), default=0.0)
    share = all_of_it["rates"].get(chosen, first["rates"].get(chosen, 0.0)) / best if best else 1.0
    return {
        "family": family, "nets": len(board.nets), "parts": len(board.parts), "seconds": took, "libraries": bare,
        "ratio": took / bare, "bytes": first["bytes"], "share": share, "chosen": chosen, "stop": first["stop"],
    }  # fmt: skip


def main() -> None:
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--nets", type=int, nargs="+", default=list(GOALS))
    given.add_argument("--families", nargs="+", default=["notebook", "server-card"])
    given.add_argument("--runs", type=int, default=3)
    given.add_argument("--child", type=Path)
    given.add_argument("--full", action="store_true")
    said = given.parse_args()
    if said.child:
        child(said.child, said.full)
        return
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for nets in said.nets:
            for family in said.families:
                rows.append(found := row(family, nets, said.runs, Path(folder)))
                print(
                    "{family:12s} {nets:5d} nets {parts:5d} parts  {seconds:6.2f} s, x{ratio:.1f} of the libraries "
                    "alone, {mb:.0f} MB, share {share:.3f}: {chosen}{stop}".format(**found, mb=found["bytes"] / 1e6),
                    flush=True,
                )
    target = Path(__file__).parent / "results" / "first_advice.json"
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps(rows, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
