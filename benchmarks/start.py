"""A second start of the page, offline: how long until it says its address, and until that answers.

    PYTHONPATH=src:. python benchmarks/start.py
    PYTHONPATH=src:. python benchmarks/start.py --runs 9 make demo

By default `ohmwright page` is started as in this environment; with words, what they say, in the folder of the program.
Every run is stopped once its address has answered. Processor time is that of all its processes up to the address: on a
machine that does something else as well, it tells more than the wall clock.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
GOAL = 5.0
"""From the order to the address. [s]"""


def processor_seconds(group: int) -> float:
    """Processor time that the processes of a group and what they waited for have taken so far. [s]"""
    ticks = 0
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
        except OSError:
            continue  # it has ended meanwhile
        if int(fields[2]) == group:
            ticks += sum(int(field) for field in fields[11:15])
    return ticks / os.sysconf("SC_CLK_TCK")


def started(words: list[str], environment: dict[str, str]) -> tuple[float, float, float]:
    """Time to the address and to its answer on the wall clock, and processor time to the address. [s]"""
    began = time.perf_counter()
    process = subprocess.Popen(
        words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=environment,
        start_new_session=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        address = next((found[0] for line in process.stdout if (found := re.search(r"http://\S+", line))), None)
        assert address is not None, "the page did not start"
        told, processor = time.perf_counter() - began, processor_seconds(process.pid)
        with urllib.request.urlopen(address, timeout=30) as answer:
            answer.read()
        return told, time.perf_counter() - began, processor
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.communicate()


def main() -> None:
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--runs", type=int, default=5)
    given.add_argument("words", nargs="*", help="what starts the page, if not this environment's own")
    said = given.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        own = [sys.executable, "-m", "ohmwright.cli", "page", "--no-browser", "--cases", f"{folder}/cases.sqlite"]
        environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        environment |= {"BROWSER": "true"}
        if not said.words:
            environment |= {"PYTHONPATH": str(ROOT / "src"), "PYTHONPYCACHEPREFIX": f"{folder}/bytecode"}
        started(said.words or own, environment)  # the first start compiles and makes the store
        runs = [started(said.words or own, environment) for _ in range(said.runs)]
    told, answered, processor = (statistics.median(column) for column in zip(*runs, strict=True))
    load = os.getloadavg()[0]
    print(
        f"address after {told:.2f} s (goal {GOAL:g} s: {'met' if told < GOAL else 'missed'}), answered after "
        f"{answered:.2f} s, {processor:.2f} s of processor; median of {said.runs}, load {load:.1f} on {os.cpu_count()}"
    )
    target = Path(__file__).parent / "results" / "start.json"
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps({"runs": runs, "load": load, "goal": GOAL}, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
