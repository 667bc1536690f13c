"""From a stable value to stored and told with new advice, on practice boards, with the store on the disk.

Times the server's side of it: from the reading with which the display has stood still long enough, to the event in the
file, to the state with the new advice handed to the page's socket. What the browser then does is not in it.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from ohmwright.bootstrap import desk_at, practice_bench
from ohmwright.usecases import open_case
from ohmwright.web.aside import Aside, desk_thinking_aside
from ohmwright.web.foresight import desk_with_foresight
from ohmwright.web.round_desk import RoundDesk, RoundOrder
from ohmwright.web.session import CaseSession

SEEDS = (7,)
PATIENCE = 45.0
"""How long one round may take. [s]"""


def one_round(seed: int, folder: Path, *, ahead: bool) -> list[tuple[float, float]]:
    """Times to stored and to told with new advice, of each value. [s]"""
    aside, second = Aside(), Aside()
    bare = desk_at(folder / f"{seed}{ahead}.sqlite")
    second_think = desk_thinking_aside(bare, second).engine.think
    thinking, foresight = desk_with_foresight(desk_thinking_aside(bare, aside), second_think)
    bench = practice_bench("", "", seed)
    open_case(thinking, "round", bench.board)
    session = CaseSession(thinking, "round", bench)
    rounds = RoundDesk(session, thinking, foresight if ahead else None)
    times: list[tuple[float, float]] = []
    marks: dict[int, tuple[float, float]] = {}
    enter = session.enter

    def entered(seen: int | None, task: Any) -> None:
        began = time.perf_counter()
        enter(seen, task)
        marks[session.view.sequence] = (began, time.perf_counter())

    def told() -> None:
        sequence = session.view.sequence
        if sequence in marks and not session.state()["thinking"]:
            began, stored = marks.pop(sequence)
            times.append((stored - began, time.perf_counter() - began))

    session.enter, session.tell = entered, told  # type: ignore[method-assign]  # timed from outside
    _ = session.view.thought
    threading.Thread(target=rounds.listen, daemon=True).start()
    rounds.obey(RoundOrder(act="begin"))
    end = time.monotonic() + PATIENCE
    while rounds.plain()["on"] and time.monotonic() < end:
        time.sleep(0.05)
        plain = rounds.plain()
        if plain["on"] and plain["phase"] == "open" and rounds.waits_for_key():
            rounds.obey(RoundOrder(act="take"))
    time.sleep(2.0)
    rounds.close()
    aside.close()
    second.close()
    session.close()
    return times


def main() -> None:
    rows = {}
    for ahead in (True, False):
        with tempfile.TemporaryDirectory() as folder:
            times = [t for seed in SEEDS for t in one_round(seed, Path(folder), ahead=ahead)]
        stored, told = ([1e3 * t[k] for t in times] for k in (0, 1))
        rows["thought ahead" if ahead else "thought after"] = {
            "n": len(times), "stored_ms": _spread(stored), "told_with_advice_ms": _spread(told),
            "within_150_ms": round(sum(t <= 150 for t in told) / max(1, len(told)), 3),
        }  # fmt: skip
    sys.stdout.write(json.dumps(rows, indent=1) + "\n")


def _spread(values: list[float]) -> dict[str, float]:
    """Median, 95th percentile, largest. [ms]"""
    ordered = sorted(values)
    return {
        "median": round(statistics.median(ordered), 1), "p95": round(ordered[int(0.95 * (len(ordered) - 1))], 1),
        "max": round(ordered[-1], 1),
    }  # fmt: skip


if __name__ == "__main__":
    main()
