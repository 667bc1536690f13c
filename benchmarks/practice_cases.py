"""Every practice fault by the advice and by an honest habit, on the same bench, with the same minutes.

The habit is that of an experienced hand (common practice, no source): look; ohms at the input; ohms from the
input to every coil; both ends of every coil; straight across fuses, beads and series parts; at the lowest
place feed 0.8 V and feel; take off what got warm; lift the coil and read both sides; then take parts off the
bad net by prior per minute, each read on the board and by itself. Unsolved counts as four hours.

    python benchmarks/practice_cases.py [--seed 5] [FAULT ...]
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from pathlib import Path

from ohmwright import bootstrap
from ohmwright.circuit import Board, Feed, Part
from ohmwright.devices import KINDS
from ohmwright.errors import OhmwrightError, RefusedError
from ohmwright.facts import EntryFact, Facts, HeatFinding, Quantity, Reading
from ohmwright.planning.costs import FEED, HEAT, LOOSE, OHMS, PAIR, TRY, removal_minutes, removal_risk
from ohmwright.safety import Permit, permit
from ohmwright.usecases.desk import view_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.run_test import PracticeBench, run_test

CAP = 240.0
MOST = 60
LOW, OPEN_PATH = 25.0, 30.0
FAULTS = Path(bootstrap.__file__).parent / "practice" / "faults"


def by_advice(bench: PracticeBench) -> dict[str, object]:
    """Follow the advice to its end."""
    desk = bootstrap.desk_at(memory=True)
    view = open_case(desk, "case", bench.board)
    minutes, actions, slowest = 0.0, 0, 0.0
    while actions < MOST:
        began = time.perf_counter()
        advice = view.advice
        slowest = max(slowest, time.perf_counter() - began)
        if advice.stop or not advice.tests:
            break
        test = advice.tests[0]
        minutes, actions = minutes + test.minutes + test.risk, actions + 1
        try:
            run_test(desk, "case", test, bench)
        except RefusedError:
            break
        view = view_of(desk, "case")
    proven = {claim.part for claim in view.diagnosis.claims if claim.level.value == "proven"}
    top = view.diagnosis.suspects[0]
    return {"proven": sorted(proven), "top": top.words, "p": round(top.probability, 3), "minutes": round(minutes, 1),
            "actions": actions, "slowest": round(slowest, 2)}  # fmt: skip


class Habit:
    """The habit at one bench, counting minutes."""

    def __init__(self, bench: PracticeBench) -> None:
        self.bench, self.board, self.truth = bench, bench.board, set(bench.truth())
        self.minutes, self.actions, self.found = 0.0, 0, set[str]()
        self.readings: list[Reading] = []

    def ohms(self, red: str, black: str, minutes: float = OHMS) -> float:
        """A reading in ohms; OL counts as a gigaohm."""
        self.minutes, self.actions = self.minutes + minutes, self.actions + 1
        value = self.bench.read("ohms", point(self.board, red), point(self.board, black))
        self.readings.append(Reading(Quantity.OHMS, red, black, value))
        return 1e9 if value is None else value

    def off(self, name: str) -> bool:
        """Take a part off and read it by itself; whether that was (one of) the culprits."""
        part = self.board.part(name)
        self.minutes += removal_minutes(part) + removal_risk(part) + LOOSE
        self.actions += 1
        if name in self.truth:
            self.found.add(name)
            self.minutes += 0.7 * removal_minutes(part) + TRY
        return self.truth <= self.found

    def run(self) -> dict[str, object]:
        """The whole habit, to the end or the cap."""
        for done in self.steps():
            if done or self.minutes >= CAP:
                break
        solved = bool(self.truth) and self.truth <= self.found
        minutes = round(min(self.minutes, CAP) if solved else CAP, 1)
        return {"solved": solved, "minutes": minutes, "actions": self.actions}

    def steps(self) -> Iterator[bool]:
        """Each step, telling whether the case is over."""
        b = self.board
        self.minutes += 1.0
        lowest = {net: self.ohms(net, b.ground) for net in [*b.entries, *self.coil_ends()]}
        yield False
        for name, pair in self.series():
            if self.ohms(*pair, minutes=PAIR) > OPEN_PATH:
                yield self.off(name)
        for entry in b.entries[:1]:
            for coil in (p for p in b.parts if p.kind == "coil"):
                if self.ohms(entry, coil.nets[0], PAIR) < LOW:
                    for part, _ in b.pins_on[coil.nets[0]]:
                        if part.kind in ("buck", "charger", "fet-n", "fet-p"):
                            yield self.off(part.name)
        order = sorted(lowest, key=lambda net: lowest[net])
        rest = [n.name for n in b.nets if n.rail and n.name not in lowest]
        for net in [*order, *rest]:
            if net in rest and self.ohms(net, b.ground) > 400.0:
                continue
            if net in lowest and lowest[net] > 400.0:
                continue
            yield from self.on_net(net)
        for net in (n.name for n in b.nets if n.name != b.ground):
            yield from self.removals(net)

    def on_net(self, net: str) -> Iterator[bool]:
        """Feed and feel, then the coil, then the parts of one bad net."""
        warm = self.feel(net)
        for name in warm:
            yield self.off(name)
        yield from self.removals(net)

    def feel(self, net: str) -> tuple[str, ...]:
        """What gets warm with 0.8 V on a net, where that is permitted."""
        feed = Feed(net, self.board.ground, 0.8, 1.0)
        entries = tuple(EntryFact(e, None, True, True) for e in self.board.entries)
        facts = Facts(readings=tuple(self.readings), entries=entries)
        answer = permit(self.board, facts, feed)
        if not isinstance(answer, Permit):
            return ()
        self.minutes, self.actions = self.minutes + FEED + HEAT, self.actions + 1
        self.bench.feed(answer)
        parts, finding = self.bench.heat(tuple(p.name for p in self.board.parts))
        self.bench.feed_off()
        self.bench.discharge()
        return parts if finding is HeatFinding.PART else ()

    def removals(self, net: str) -> Iterator[bool]:
        """Parts of a net by prior per minute."""
        parts = {p.name: p for p, _ in self.board.pins_on[net]}
        for name in sorted(parts, key=lambda n: -KINDS[parts[n].kind].rate / removal_minutes(parts[n])):
            if name not in self.found and KINDS[parts[name].kind].rate > 0:
                yield self.off(name)

    def coil_ends(self) -> list[str]:
        """Nets at coils."""
        return list(dict.fromkeys(net for p in self.board.parts if p.kind == "coil" for net in p.nets))

    def series(self) -> Iterator[tuple[str, tuple[str, str]]]:
        """Parts that should conduct from net to net."""
        for part in self.board.parts:
            if part.kind in ("fuse", "ferrite", "coil", "sense", "link") and len(part.nets) == 2:
                yield part.name, (part.nets[0], part.nets[1])


def point(board: Board, net: str) -> str:
    """A pad on a net."""
    if net == board.ground:
        return net
    pins: tuple[tuple[Part, object], ...] = board.pins_on[net]
    part, pin = pins[0]
    return f"{part.name}.{pin.number}"  # type: ignore[attr-defined]  # a Pin


def main() -> None:
    """Run the chosen faults and print a table."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("faults", nargs="*")
    asked.add_argument("--seed", type=int, default=5)
    asked.add_argument("--json", type=Path)
    given = asked.parse_args()
    names = given.faults or sorted(p.stem for p in FAULTS.glob("*.json"))
    rows = []
    print("| fault | truth | proven | top | minutes | actions | habit minutes | slowest thought, s |")
    print("|---|---|---|---|---|---|---|---|")
    for name in names:
        row: dict[str, object] = {"fault": name}
        for policy in ("advice", "habit"):
            bench = bootstrap.practice_bench(name.split("-")[0], name, given.seed)
            try:
                row["truth"] = sorted(bench.truth())
                row[policy] = by_advice(bench) if policy == "advice" else Habit(bench).run()
            except OhmwrightError as error:
                row[policy] = {"error": str(error)}
            finally:
                bench.close()
        rows.append(row)
        a, h = row["advice"], row["habit"]
        assert isinstance(a, dict)
        assert isinstance(h, dict)
        print(f"| {name} | {row['truth']} | {a.get('proven')} | {a.get('top')} {a.get('p')} | {a.get('minutes')} | "
              f"{a.get('actions')} | {h.get('minutes')} | {a.get('slowest')} |", flush=True)  # fmt: skip
    if given.json:
        given.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
