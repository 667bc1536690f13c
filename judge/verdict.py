"""Whether an answer is right, by the definitions of `docs/judge.md`. Here, and only here, the truth is opened."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from judge.ledger import Event, Ledger
from judge.policies.answer import LEVELS, Answer, ClaimMade, Named
from judge.world import Case, Fault
from ohmwright.circuit import BoardState
from ohmwright.facts import Quantity

APART = 2.0
"""Combined standard deviations beyond which two noise-free readings are told apart. [1]"""
SOUND_SPREAD = 0.15
"""How much of a sound reading nobody can know beforehand, for the question whether a case is decidable. [1]"""
LOOSE = (Quantity.PART_OHMS, Quantity.PART_DIODE)
SWEEP = (1.0, 0.3, 3.0, 0.1, 10.0)
"""Severities tried for another suspect, as multiples of the true one. [1]"""
MOST_SWEPT = 40
"""Members of a group whose readings are simulated; a larger group counts as not right. [1]"""


class Verdict:
    """Judges one answer to one case."""

    def __init__(self, case: Case, bench: Any, ledger: Ledger) -> None:
        self.case, self.bench, self.ledger = case, bench, ledger
        self.hidden = tuple(f for f in case.faults if f.part in case.hidden)
        # Something hidden, and dirt, may be named by the net it is on.
        self.by_net = tuple(f for f in case.faults if f.part in case.hidden or f.kind == "dirt")
        self.loose_nets = frozenset(net for f in self.by_net for net in f.nets(case.world))

    # What a suspect says, against the truth

    def true_suspect(self, named: Named) -> bool:
        """Whether a suspect is exactly the truth: all culprits, and a hidden one by one of its nets."""
        if not self.case.faults:
            return not named.parts and named.mode == "none"
        spots = {self._net(spot) for spot in named.where} if named.parts or named.mode == "unmapped" else set()
        return self._covers(set(named.parts), spots)

    def _covers(self, parts: set[str], nets: set[str]) -> bool:
        """Whether parts and nets together name every fault, and no part that is well."""
        by_net = {f for f in self.by_net if nets & set(f.nets(self.case.world))}
        every = all(f in by_net or (f.part in parts and f.part not in self.case.hidden) for f in self.case.faults)
        return every and parts <= self.case.culprits

    def contains(self, group: Sequence[Named]) -> bool:
        """Whether the truth is among a group."""
        return any(self.true_suspect(named) for named in group)

    def right(self, group: Sequence[Named]) -> bool:
        """Whether the truth is among a group and nothing done sets any other member apart from it."""
        others = [named for named in group if not self.true_suspect(named)]
        if not self.contains(group) or len(others) > MOST_SWEPT:
            return False
        return not any(self.set_apart(named) for named in others)

    def hidden_found(self, group: Sequence[Named]) -> set[str]:
        """Hidden culprits, and dirt, named as "unmapped, on this net"."""
        spots = {self._net(spot) for named in group if named.parts or named.mode == "unmapped" for spot in named.where}
        return {f.part for f in self.by_net if spots & set(f.nets(self.case.world))}

    def proven_all(self, answer: Answer) -> bool:
        """Whether it stopped because all that is wrong, and nothing else, was proven: then that is its answer."""
        works = any(event.act == "try" and event.finding == "works" for event in self.ledger.events[-1:])
        ended = works or answer.stop == "proven"
        parts = set(answer.proven) & set(self.case.world.part)
        nets = set(answer.proven) - parts
        return ended and bool(answer.proven) and nets <= self.loose_nets and self._covers(parts, nets)

    # The group rule

    def set_apart(self, named: Named) -> bool:
        """Whether some test taken tells another suspect from the truth, on readings without noise."""
        if named.mode == "none" or not (named.parts or named.mode == "unmapped"):
            return self._read_apart(())
        if not self.case.faults:
            return all(self._read_apart(faults) for faults in self._as_faults(named))
        if self._seen_apart(named):
            return True
        alternatives = list(self._as_faults(named))
        if not alternatives:
            return not (set(map(self._net, named.where)) & set(self._fault_nets()))
        return all(self._read_apart(faults) for faults in alternatives)

    def _seen_apart(self, named: Named) -> bool:
        """A mark or heat truly at a culprit, or a cure of it, is what the other suspect would not have shown."""
        culprits = self.case.culprits
        for event in self.ledger.events:
            found = set(event.parts) & culprits
            sensed = event.act in ("look", "heat") and event.finding != "nothing" and found
            if sensed and not set(named.parts) & set(event.parts):
                return True
            if event.act == "try" and event.finding == "works":
                cured = event.state.off | event.state.replaced | event.state.cleaned
                return not named.parts or not set(named.parts) <= cured
        return False

    def _as_faults(self, named: Named) -> Iterable[tuple[Fault, ...]]:
        """Another suspect as faults that could be simulated, at several severities."""
        path_ohms = next((f.ohms for f in self.case.faults if f.kind in ("short", "leak", "dirt")), 1.0)
        names = named.parts or tuple(self._stand_in(named))
        for factor in SWEEP:
            faults = []
            for name in names:
                fault = self._one(name, named, path_ohms * factor)
                if fault is not None:
                    faults.append(fault)
            if faults and len(faults) == len(names):
                yield tuple(faults)
            if named.mode in ("open", "drift"):
                return

    def _stand_in(self, named: Named) -> list[str]:
        """For something not on the map: any part of the truth between that net and ground."""
        nets = [self._net(spot) for spot in named.where]
        world = self.case.world
        return [next((p.name for p in world.parts if p.on_net(net) and p.on_net(world.ground)), "") for net in nets[:1]]

    def _one(self, name: str, named: Named, ohms: float) -> Fault | None:
        world = self.case.world
        if name not in world.part:
            return None
        part = world.part[name]
        pins = [spot.rpartition(".")[2] for spot in named.where if spot.rpartition(".")[0] == name]
        if not named.parts:
            net = self._net(named.where[0])
            pins = [next(p.number for p in part.pins if p.net == n) for n in (net, world.ground)]
        if len(pins) < 2:
            pins = [p.number for p in part.pins[:2]]
        if len(pins) < 2 or any(pin not in {p.number for p in part.pins} for pin in pins):
            return None
        if named.mode in ("open", "drift"):
            label = next((c.label for c in part.conductors if {c.a, c.b} == set(pins)), None)
            if label is None:
                return Fault("joint", name, pins[0], pins[0], 1e6)
            return Fault("open", name, pins[0], pins[1], 1e8, label)
        return Fault("short" if ohms <= 10.0 else "leak", name, pins[0], pins[1], ohms)

    def _read_apart(self, others: tuple[Fault, ...]) -> bool:
        """Whether some reading taken comes out otherwise under other faults than under the true ones."""
        return any(self._event_apart(event, others) for event in self.ledger.events if event.act == "read")

    def _event_apart(self, event: Event, others: tuple[Fault, ...]) -> bool:
        assert event.quantity is not None
        if self._same_circuit(event, others):
            return False
        if event.quantity in LOOSE:
            name = event.red.rpartition(".")[0]
            concerned = {f.part for f in (*others, *self.case.faults)}
            if name not in concerned:
                return False
        true, other = (
            self.bench.true_reading(event.quantity, event.red, event.black, faults, event.state)
            for faults in (self.case.faults, others)
        )
        return apart(self.bench, event.quantity, true, other)

    def _same_circuit(self, event: Event, others: tuple[Fault, ...]) -> bool:
        """Whether the other faults are, in that state, the same circuit by their very places: nothing to simulate."""
        if event.quantity in LOOSE or not others:
            return False
        touched = event.state.off | event.state.replaced | event.state.cleaned
        mine, theirs = ([self._path(f) for f in faults] for faults in (self.case.faults, others))
        if any(f.part in touched for f in (*self.case.faults, *others)) or None in mine or None in theirs:
            return False
        return sorted(map(str, mine)) == sorted(map(str, theirs))

    def _path(self, fault: Fault) -> tuple[tuple[str, ...], float] | None:
        if fault.kind not in ("short", "leak", "dirt"):
            return None
        part = self.case.world.part[fault.part]
        return tuple(sorted(str(part.pin(n).net) for n in (fault.a, fault.b))), fault.ohms

    # Claims

    def likely_false(self, claim: ClaimMade) -> bool:
        """Whether a claim of "likely" or more covers no culprit at all."""
        if claim.level not in ("likely", "supported", "proven"):
            return False
        if claim.part:
            return not self._guilty(claim.part)
        return not self.contains(claim.covers) and not any(
            part in self.case.culprits for named in claim.covers for part in named.parts
        )

    def proven_false(self, claim: ClaimMade, proven: Sequence[str]) -> bool:
        """Whether a proof names a healthy part, or leaves a fault on that rail unannounced."""
        if claim.level != "proven":
            return False
        if not self._guilty(claim.part):
            return True
        mine = {net for f in self.case.faults if f.part == claim.part for net in f.nets(self.case.world)}
        mine |= {claim.part} & self.loose_nets
        rest = [f for f in self.case.faults if f.part != claim.part and not self._settled(f, proven)]
        return not claim.more and any(mine & set(f.nets(self.case.world)) for f in rest)

    def _settled(self, fault: Fault, proven: Sequence[str]) -> bool:
        """Whether a fault is proven as well, or is no longer on the board: replaced, soldered anew or cleaned away."""
        spots = {fault.part, *fault.nets(self.case.world)}
        state = self.ledger.state
        if fault.part in proven or (fault in self.by_net and spots & set(proven)):
            return True
        if fault.kind in ("dirt", "joint") and spots & state.cleaned:
            return True
        if fault.kind == "joint" and fault.part in state.refitted:
            return True
        return fault.kind != "dirt" and fault.part in state.replaced

    def all_found(self, answer: Answer) -> bool:
        """Whether every culprit is proven or stands in one and the same suspect of the group."""
        culprits = self.case.culprits
        proven = set(answer.proven)
        sure = proven | {f.part for f in self.by_net if proven & set(f.nets(self.case.world))}
        together = [sure | set(named.parts) | self.hidden_found((named,)) for named in answer.top.group] or [sure]
        return bool(culprits) and any(culprits <= found for found in together)

    def accuses_core(self, claim: ClaimMade) -> bool:
        """Whether a claim puts a fault on a core rail that is well: every suspect it covers is of such a rail."""
        covers = [named for named in claim.covers if named.mode != "none"]
        return claim.level != "open" and bool(covers) and all(self._on_sound_core(named) for named in covers)

    def _on_sound_core(self, named: Named) -> bool:
        spots = {self._net(spot) for spot in named.where}
        return not set(named.parts) & self.case.culprits and bool(spots & set(self.sound_cores))

    @property
    def sound_cores(self) -> tuple[str, ...]:
        """Rails of a few ohms with no fault at them."""
        bad = {net for f in self.case.faults for net in f.nets(self.case.world)}
        return tuple(net.name for net in self.case.world.nets if net.core and net.name not in bad)

    def _guilty(self, name: str) -> bool:
        """Whether a part is a culprit, or a net carries one that is not on the map."""
        return name in self.case.culprits or name in self.loose_nets

    # Decidable

    def decidable(self) -> bool:
        """Whether each fault shows in ohms or diode mode at its own nets beyond what a sound board may vary by."""
        return bool(self.case.faults) and all(self._shows(fault) for fault in self.case.faults)

    def _shows(self, fault: Fault) -> bool:
        world = self.case.world
        part = world.part[fault.part]
        nets = [n for n in dict.fromkeys(part.pin(x).net for x in (fault.a, fault.b)) if n is not None]
        if fault.kind in ("joint", "open") and len(part.pins) == 2:
            nets = [p.net for p in part.pins if p.net is not None]
        pairs = [(a, world.ground) for a in nets if a != world.ground]
        if len(nets) == 2 and world.ground not in nets:
            pairs.append((nets[0], nets[1]))
        for red, black in pairs:
            for quantity in (Quantity.OHMS, Quantity.DIODE):
                ends = (black, red) if quantity is Quantity.DIODE else (red, black)
                # By itself: one that hides behind another shows once that is out of the way.
                bad = self.bench.true_reading(quantity, *ends, (fault,), BoardState())
                good = self.bench.true_reading(quantity, *ends, (), BoardState())
                if apart(self.bench, quantity, bad, good, SOUND_SPREAD):
                    return True
        return False

    def _fault_nets(self) -> list[str]:
        return [net for f in self.case.faults for net in f.nets(self.case.world)]

    def _net(self, spot: str) -> str:
        world = self.case.world
        name, dot, number = spot.rpartition(".")
        if spot not in world.net and dot and name in world.part:
            return str(world.part[name].pin(number).net)
        return spot


def apart(bench: Any, quantity: Quantity, one: float | None, other: float | None, spread: float = 0.0) -> bool:
    """Whether two noise-free readings are more than `APART` combined standard deviations from each other."""
    if one is None or other is None:
        return one is not other
    sds = (bench.read_sd(quantity, one), bench.read_sd(quantity, other), spread * one, spread * other)
    combined: float = sum(float(sd) ** 2 for sd in sds) ** 0.5
    return abs(one - other) > APART * combined


def accusing(claim: ClaimMade) -> bool:
    """Whether a claim says that something is wrong."""
    return claim.level != "open" and bool(claim.part or any(named.mode != "none" for named in claim.covers))


def outcome(verdict: Verdict, answer: Answer) -> dict[str, Any]:
    """Everything the metrics need of one answer, as plain data."""
    group = answer.top.group
    proven = answer.proven
    claims = answer.claims
    culprits = verdict.case.culprits
    ever = (*answer.ever, *claims)
    return {
        "right": verdict.proven_all(answer) or verdict.right(group),
        "contains": verdict.contains(group),
        "exact": len(group) == 1 and verdict.contains(group),
        "size": len(group),
        "p": round(answer.top.probability, 4),
        "at": {str(k): [round(s.probability, 4), verdict.contains(s.group)] for k, s in answer.at},
        "level": max((c.level for c in claims), key=LEVELS.index, default="open"),
        "likely": sum(c.level != "open" for c in claims),
        "likely_false": sum(verdict.likely_false(c) for c in claims),
        "proven": len([c for c in claims if c.level == "proven"]),
        "proven_false": sum(verdict.proven_false(c, proven) for c in claims),
        "ever_likely": sum(c.level != "open" for c in ever),
        "ever_likely_false": sum(verdict.likely_false(c) for c in ever),
        "all_found": verdict.all_found(answer),
        "accuses": not culprits and any(accusing(c) for c in ever),
        "sound_cores": len(verdict.sound_cores),
        "accuses_core": any(verdict.accuses_core(c) for c in ever),
        "abstains": answer.abstains,
        "needless": len([p for p in verdict.ledger.lifted if p not in culprits]),
        "lifted": len(verdict.ledger.lifted),
        "readings": verdict.ledger.readings,
        "violations": len(verdict.ledger.violations),
        "violated": dict(Counter(str(getattr(v, "rule", v)) for v in verdict.ledger.violations)),
        "stop": answer.stop,
        "top": [[*n.parts, n.mode, *n.where][:8] for n in group[:6]],
        "claims": [[c.level, c.part] for c in claims],
    }  # fmt: skip
