"""From a stable value to stored, shown, and told with new advice, on practice boards, with the store on the disk.

    PYTHONPATH=src:. python benchmarks/capture.py --readings 15 --until 30
    PYTHONPATH=src:. python benchmarks/capture.py --readings 15 --until 30 --nets 200

Times the server's side of it: from the reading with which the display has stood still long enough, to the event in the
file, to the first state with the value handed to the page's socket, to the state with the new advice. What the browser
then does is not in it. The case has that many readings on record before the first that is timed.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from judge.cases import exam_at

from ohmwright import usecases
from ohmwright.bootstrap import desk_at, practice_bench
from ohmwright.casebook.events import BoardTried, EntryDescribed, ReadingRecorded
from ohmwright.errors import OhmwrightError
from ohmwright.facts import Quantity
from ohmwright.formats.board_json import board_to_json
from ohmwright.usecases.desk import Desk, record
from ohmwright.usecases.run_test import PracticeBench
from ohmwright.web.aside import Aside, desk_thinking_aside
from ohmwright.web.foresight import desk_with_foresight
from ohmwright.web.round_desk import RoundDesk, RoundOrder
from ohmwright.web.session import CaseSession

CASE = "round"
PATIENCE = 120.0
"""How long one case may take. [s]"""
LIMIT = 0.150
"""What the time to new advice is held against. [s]"""


@dataclass
class Times:
    """Of each value taken: to stored, to first shown, to told with new advice. [s]"""

    stored: list[float] = field(default_factory=list)
    shown: list[float] = field(default_factory=list)
    advised: list[float] = field(default_factory=list)
    foreseen: int = 0


@dataclass
class Mark:
    """A value on its way."""

    began: float
    stored: float = 0.0
    shown: float = 0.0


class Watch:
    """Times a session from outside."""

    def __init__(self, session: CaseSession) -> None:
        self.times, self._marks, self._one = Times(), {}, threading.Lock()
        self._session, self._enter = session, session.enter
        session.enter, session.tell = self.entered, self.told  # type: ignore[method-assign]  # timed from outside

    _marks: dict[int, Mark]

    def entered(self, seen: int | None, task: Any) -> None:
        """Stands in for `CaseSession.enter`."""
        began, number = time.perf_counter(), self._session.view.sequence + 1
        with self._one:
            self._marks[number] = Mark(began)
        self._enter(seen, task)
        self.times.stored.append(time.perf_counter() - began)

    def told(self) -> None:
        """Stands in for the word that the page's socket waits for; the state is made as it is for the page."""
        state = self._session.state()
        now, sequence = time.perf_counter(), state["sequence"]
        with self._one:
            for number, mark in list(self._marks.items()):
                if number <= sequence and not mark.shown:
                    mark.shown = now
                    self.times.shown.append(now - mark.began)
                if number <= sequence and not state["thinking"]:
                    self.times.advised.append(now - mark.began)
                    del self._marks[number]

    @property
    def waiting(self) -> bool:
        """Whether some value has no advice yet."""
        return bool(self._marks)


def one_case(board: str, seed: int, folder: Path, given: argparse.Namespace, *, ahead: bool) -> Times:
    """A case read in rounds from `given.readings` readings to `given.until`."""
    aside = Aside()
    second = aside if given.minds == 1 else Aside()
    bare = desk_at(folder / f"{seed}{ahead}.sqlite")
    second_think = desk_thinking_aside(bare, second).engine.think
    thinking, foresight = desk_with_foresight(desk_thinking_aside(bare, aside), second_think)
    bench = practice_bench(board, "", seed)
    usecases.open_case(thinking, CASE, bench.board)
    _read_before(bare, bench, given.readings)
    session = CaseSession(thinking, CASE, bench)
    rounds = RoundDesk(session, bare, foresight if ahead else None)
    watch = Watch(session)
    threading.Thread(target=rounds.listen, daemon=True).start()
    try:
        _rounds(session, rounds, watch, given.until - given.readings)
    finally:
        rounds.close()
        for process in {aside, second}:
            process.close()
        session.close()
    watch.times.foreseen = foresight.used
    return watch.times


def _rounds(session: CaseSession, rounds: RoundDesk, watch: Watch, wanted: int) -> None:
    """Round after round of what is advised, until so many values are taken."""
    end = time.monotonic() + PATIENCE
    while len(watch.times.stored) < wanted and time.monotonic() < end:
        if not rounds.plain()["on"]:
            if session.state()["thinking"]:
                time.sleep(0.1)
                continue
            try:
                rounds.obey(RoundOrder(act="begin"))
            except OhmwrightError:
                break  # nothing is advised that needs only probes
        time.sleep(0.05)
        if rounds.plain()["on"] and rounds.waits_for_key():
            rounds.obey(RoundOrder(act="take"))
    if rounds.plain()["on"]:
        rounds.obey(RoundOrder(act="end"))
    while watch.waiting and time.monotonic() < end:
        time.sleep(0.05)


def _read_before(desk: Desk, bench: PracticeBench, many: int) -> None:
    """What is on record when the first timed value comes: the entry, a trial, readings against ground."""
    net = bench.board.entries[0] if bench.board.entries else bench.board.nets[0].name
    record(desk, CASE, EntryDescribed(net, *bench.entry(net)), BoardTried(bench.tried()))
    for (quantity, net), _ in zip(_points(bench), range(many), strict=False):
        value = bench.read(quantity, net, bench.board.ground)
        taken = ReadingRecorded(Quantity(quantity), net, bench.board.ground, value, bench.meter, "meter")
        record(desk, CASE, taken)


def _points(bench: PracticeBench) -> Iterator[tuple[str, str]]:
    """Rails in diode mode and in ohms, every second other net in diode mode: the rest is left for the rounds."""
    board = bench.board
    rails = [n.name for n in board.nets if n.rail and n.name != board.ground][: len(board.nets) // 8]
    others = [n.name for n in board.nets if not n.rail and n.name != board.ground][::2]
    for quantity in ("diode", "ohms"):
        yield from ((quantity, net) for net in rails)
    yield from (("diode", net) for net in others)


def _board(folder: Path, nets: int, seed: int) -> str:
    """A file with a board of about that size; empty where the practice bench draws one of its own."""
    if not nets:
        return ""
    board = exam_at("server-card", seed, "latency", nets=(nets - 10, nets + 10), hiding=0.0).board
    path = folder / f"board{seed}.json"
    path.write_text(json.dumps(board_to_json(board)))
    return str(path)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--readings", type=int, default=15, help="on record before the first that is timed")
    parser.add_argument("--until", type=int, default=30, help="on record after the last")
    parser.add_argument("--nets", type=int, default=0, help="size of the board; 0 takes the practice boards")
    parser.add_argument("--seeds", type=int, nargs="+", default=[7])
    parser.add_argument("--ways", nargs="+", default=["ahead", "after"], choices=["ahead", "after"])
    parser.add_argument("--minds", type=int, default=1, help="1: one process thinks ahead and in earnest; 2: one each")
    given = parser.parse_args()
    rows = {}
    for way in given.ways:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            found = [
                one_case(_board(folder, given.nets, seed), seed, folder, given, ahead=way == "ahead")
                for seed in given.seeds
            ]
        advised = [t for times in found for t in times.advised]
        rows[f"thought {way}"] = {
            "n": len(advised), "foreseen": sum(times.foreseen for times in found),
            "stored_ms": _spread([t for times in found for t in times.stored]),
            "shown_ms": _spread([t for times in found for t in times.shown]),
            "told_with_advice_ms": _spread(advised),
            "within_150_ms": round(sum(t <= LIMIT for t in advised) / max(1, len(advised)), 3),
        }  # fmt: skip
    sys.stdout.write(json.dumps(rows, indent=1) + "\n")


def _spread(seconds: list[float]) -> dict[str, float]:
    """Median, 95th percentile, largest. [ms]"""
    if not seconds:
        return {}
    ordered = sorted(1e3 * s for s in seconds)
    return {
        "median": round(statistics.median(ordered), 1), "p95": round(ordered[int(0.95 * (len(ordered) - 1))], 1),
        "max": round(ordered[-1], 1),
    }  # fmt: skip


if __name__ == "__main__":
    main()
