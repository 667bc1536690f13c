"""Habit: an experienced hand without the program. Written and frozen before the engine was tuned.

The order is common practice, no source: battery off; look the board over; ohms at the input; both ends of
every coil, and from the input to every coil; straight across fuses, beads and links; every rail against the
band for its volts; at the worst rail feed 0.8 V, read volts and amperes, feel for heat, millivolts across the coils;
marked and warm parts off first, then the coil, then parts by prior per minute, each read in place before and
after and by itself; a new part, and a trial. With no rail low: feed the input, look which rail is missing,
suspect its supplier; read resistors in place. It knows nothing of the truth.
"""

from __future__ import annotations

from collections.abc import Iterator

from judge.costs import costs
from judge.policies import habit_sense as sense
from judge.policies.answer import Answer, ClaimMade, Named, Sitting, Stated
from ohmwright.circuit import Feed, Part
from ohmwright.facts import HeatFinding, LookFinding, Quantity

OPEN_PATH = 8.0
"""Ohms straight across a part that should conduct, above which it is open. [Ω]"""
THROUGH = 3.0
"""Ohms from input to output of a switch at rest below which it is through. [Ω]"""
LOOK_AT_ONCE = 150
SURVEYED = 80
DEAR = 10.0
"""Minutes of a removal before which the coil comes off to tell the side. [min]"""


class Done(Exception):  # it ends a case well
    """The board works."""


class Habit:
    """One case worked by habit."""

    def __init__(self, sitting: Sitting) -> None:
        self.board, self.bench = sitting.board, sitting.bench
        self.verbose = sitting.verbose
        self.proven: list[Named] = []
        self.cleared: set[str] = set()
        self.marked: dict[str, str] = {}
        self.guess: Named | None = None
        self.unmapped: Named | None = None
        self.label: float | None = None
        self.stop = ""
        self.works = self.tried = False
        self.into_coils: list[float] = []

    # The order of work

    def run(self) -> None:
        """The whole habit."""
        try:
            self._intake()
            self._input_to_coils()
            self._across_series()
            self._across_switches()
            self._low_rails(sense.CERTAIN)
            self._clean_marked()
            self._fed_round()
            self._signals()
            self._resistors()
            self._low_rails(1.0)
            self._finish()
        except Done:
            self.stop, self.works = "the board works", True

    def _intake(self) -> None:
        b = self.board
        for net in b.entries[:1]:
            self.label = self.bench.entry(net)[0]
        names = [p.name for p in b.parts]
        if len(names) > LOOK_AT_ONCE:
            power = {p.name for n in b.nets if n.rail for p, _ in b.pins_on[n.name]}
            names = sorted(power)[:LOOK_AT_ONCE]
        finding, parts = self.bench.look(tuple(names))
        if finding is not LookFinding.NOTHING:
            self.marked = dict.fromkeys(parts, finding.value)

    def _input_to_coils(self) -> None:
        """A switch that is through would pass the input's volts to everything behind a coil."""
        b = self.board
        for entry in b.entries[:1]:
            for coil in [p for p in b.parts if p.kind == "coil" and entry not in p.nets and len(p.nets) == 2]:
                self.into_coils.append(self._ohms(sense.pad_on(b, entry), sense.pad_on(b, coil.nets[0])))

    def _across_series(self) -> None:
        for part in sense.series_parts(self.board):
            if part.name in self.bench.state.off:
                continue
            ends = [next(f"{part.name}.{p.number}" for p in part.pins if p.net == n) for n in part.nets]
            if self._ohms(*ends) > OPEN_PATH:
                self._settle_open(part)

    def _settle_open(self, part: Part) -> None:
        """A part that does not conduct: solder first where it looks cracked at the joint, else off and read."""
        self.bench.take_off(part.name)
        pins = [next(p.number for p in part.pins if p.net == n) for n in part.nets]
        alone = self.bench.read_loose(part.name, pins[0], pins[1], Quantity.PART_OHMS)
        where = (f"{part.name}.{pins[0]}", f"{part.name}.{pins[1]}")
        self._judge(part, sense.bad_by_itself(part, alone, 0.0), True, Named((part.name,), "open", where, 0.9))

    def _across_switches(self) -> None:
        """Straight through every switch, regulator and FET: next to nothing there is a switch that is through."""
        b = self.board
        for part, (one, other) in sense.switch_pins(b):
            nets = [part.pin(n).net or b.ground for n in (one, other)]
            if part.name in self.bench.state.off or self._ohms(f"{part.name}.{one}", f"{part.name}.{other}") > THROUGH:
                continue
            off = self.bench.state.off
            pads = [sense.pad_on(b, n, off, part.name) for n in nets]
            self.bench.take_off(part.name)
            recovered = self._ohms(*pads) > THROUGH
            alone = self.bench.read_loose(part.name, one, other, Quantity.PART_OHMS)
            where = (f"{part.name}.{one}", f"{part.name}.{other}")
            bad = alone is not None and alone < THROUGH
            self._judge(part, bad, recovered, Named((part.name,), "short", where, 0.9))

    def _low_rails(self, share: float) -> None:
        """Every rail below that share of its band, as long as that finds something."""
        for _ in range(3):
            found = len(self.proven)
            for nets in self._low_groups(share):
                self._work_on(nets)
            if len(self.proven) == found:
                return

    def _low_groups(self, share: float) -> list[tuple[str, ...]]:
        """Rails below a share of their band, worst first: the input, coil ends, then every other rail."""
        b, found = self.board, []
        for nets in sense.joined_groups(b):
            known = [n for n in nets if b.pins_on[n]]
            if not known or not (any(b.net(n).rail or n in b.entries for n in nets) or len(nets) > 1):
                continue
            # Both ends of a coil are two readings; the rest of a joined rail reads the same.
            ohms = min(self._ohms(sense.pad_on(b, n, self.bench.state.off), b.ground) for n in known[:2])
            band = sense.suspicious_below(b, nets)
            if ohms < share * band:
                found.append((ohms / band, tuple(known)))
        return [nets for _, nets in sorted(found)]

    # One bad rail

    def _work_on(self, nets: tuple[str, ...]) -> None:
        b, net = self.board, nets[0]
        boost = self._feed_and_feel(nets)
        coil_off = False
        queue = self._ordered(nets, boost)
        while queue:
            part = queue.pop(0)
            if not coil_off and costs().take_off(part) >= DEAR and boost.get(part.name, 1.0) < 10.0:
                coil_off = True
                if self._split_at_coil(nets, boost):
                    queue = self._ordered(nets, boost)
                    continue
            at = next((n for n in nets if any(p.net == n for p in part.pins)), net)
            self.guess = Named((part.name,), "short", (at,), 0.3)
            if self._off_and_read(part, at):
                again = self._ohms(sense.pad_on(b, at, self.bench.state.off), b.ground)
                if again > sense.suspicious_below(b, nets):
                    return
                boost = {}
        # Nothing of it that is known is bad, and it is low all the same.
        self.unmapped = self.unmapped or Named((), "unmapped", (net,), 0.6)

    def _feed_and_feel(self, nets: tuple[str, ...]) -> dict[str, float]:
        """How much likelier each part becomes by heat and millivolts with 0.8 V on the rail."""
        b, net = self.board, nets[0]
        volts = min(0.8, b.net(net).nominal or 0.8)
        boost = dict.fromkeys(self.marked, 8.0)
        self.bench.feed(Feed(net, b.ground, volts, 1.5))
        shown = self.bench.read(Quantity.SUPPLY_VOLTS, net, b.ground) or 0.0
        amps = self.bench.read(Quantity.SUPPLY_AMPS, net, b.ground) or 0.0
        if abs(shown * amps) > 0.05:
            finding, parts = self.bench.heat()
            factor = {HeatFinding.PART: 30.0, HeatFinding.AREA: 8.0, HeatFinding.NOTHING: 1.0}[finding]
            for name in parts:
                boost[name] = boost.get(name, 1.0) * factor
        if amps > 0.05:
            self._by_millivolts(nets, amps, boost)
        self.bench.feed_off()
        self.bench.discharge()
        return boost

    def _by_millivolts(self, nets: tuple[str, ...], amps: float, boost: dict[str, float]) -> None:
        """Whether the current leaves the fed net through a coil or a bead: then the fault is beyond it."""
        b, net = self.board, nets[0]
        here = {p.name for p, _ in b.pins_on[net]}
        for part in [p for p in b.parts if p.kind in sense.JOINING and net in p.nets and set(p.nets) <= set(nets)][:4]:
            other = next(n for n in part.nets if n != net)
            ends = [next(f"{part.name}.{p.number}" for p in part.pins if p.net == n) for n in (net, other)]
            across = abs(self.bench.read(Quantity.VOLTS, ends[0], ends[1]) or 0.0)
            beyond = across > max(3e-4, 1.5e-3 * amps)
            for name in [p.name for p in sense.parts_on(b, nets)]:
                if (name in here) != beyond:
                    boost[name] = boost.get(name, 1.0) * 3.0

    def _split_at_coil(self, nets: tuple[str, ...], boost: dict[str, float]) -> bool:
        """The coil off, both sides read; whether that told the side."""
        b = self.board
        coil = next((p for p in b.parts if p.kind == "coil" and set(p.nets) <= set(nets) and len(p.nets) == 2), None)
        if coil is None or coil.name in self.bench.state.off:
            return False
        self.bench.take_off(coil.name)
        ends = [self._ohms(sense.pad_on(b, n, self.bench.state.off), b.ground) for n in coil.nets]
        bad = coil.nets[0] if ends[0] < ends[1] else coil.nets[1]
        if max(ends) < 3.0 * min(ends) + 1.0:
            return False
        for part in sense.parts_on(b, nets):
            on_bad = any(p.net == bad for p in part.pins)
            boost[part.name] = boost.get(part.name, 1.0) * (10.0 if on_bad else 0.05)
        return True

    def _ordered(self, nets: tuple[str, ...], boost: dict[str, float]) -> list[Part]:
        """Parts of a rail by prior per minute."""
        off = self.bench.state.off
        fresh = [p for p in sense.parts_on(self.board, nets) if p.name not in off and p.name not in self.cleared]
        fresh = [p for p in fresh if p.kind not in sense.JOINING]

        def worth(part: Part) -> float:
            return sense.PRIOR.get(part.kind, 0.3) * boost.get(part.name, 1.0) / costs().take_off(part)

        return sorted(fresh, key=lambda p: (-worth(p), p.name))

    def _off_and_read(self, part: Part, net: str) -> bool:
        """One part off, its place read before and after, and the part by itself; whether it was bad."""
        b = self.board
        pad = sense.pad_on(b, net, self.bench.state.off, part.name)
        before = self._ohms(pad, b.ground)
        self.bench.take_off(part.name)
        after = self._ohms(pad, b.ground)
        recovered = after > 1.5 * before + 0.5
        if not recovered:
            self.cleared.add(part.name)
            return False
        pins = sense.pins_across(b, part, net)
        alone = self.bench.read_loose(part.name, *pins, Quantity.PART_OHMS) if pins else None
        bad = sense.bad_by_itself(part, alone, before, sense.suspicious_below(b, (net,)))
        where = tuple(f"{part.name}.{n}" for n in pins) if pins else (net,)
        return self._judge(part, bad, recovered, Named((part.name,), "short", where, 0.9))

    def _judge(self, part: Part, bad: bool, recovered: bool, named: Named) -> bool:
        """With two signs it is proven: a new part goes in, all else back, and the board is tried."""
        self.cleared.add(part.name)
        if not (bad and recovered):
            return False
        self.proven.append(named)
        self.bench.replace(part.name)
        self._all_back()
        if self.bench.try_board():
            raise Done
        return True

    def _all_back(self) -> None:
        for name in sorted(self.bench.state.off):
            self.bench.refit(name)

    # No rail low

    def _tried_as_it_is(self) -> None:
        """Before a cure is to prove anything, once, with everything on: does it work anyway?"""
        if self.tried or self.proven:
            return
        self.tried = True
        self._all_back()
        if self.bench.try_board():
            raise Done

    def _clean_marked(self) -> None:
        """Where it looks corroded it is cleaned before anything else is tried."""
        places = [name for name, seen in self.marked.items() if seen == "corrosion"][:3]
        for name in places:
            self._tried_as_it_is()
            self.bench.clean(name)
            self._all_back()
            if self.bench.try_board():
                part = self.board.part(name)
                pins = tuple(f"{name}.{pin.number}" for pin in part.pins[:2])
                self.proven.append(Named((name,), "leak", pins, 0.9))
                raise Done

    def _fed_round(self) -> None:
        """Label volts at the input, where no coil is joined to it; which rail is missing."""
        b = self.board
        if not b.entries or not self.label or (self.into_coils and min(self.into_coils) < 30.0):
            return
        entry = b.entries[0]
        if self._ohms(sense.pad_on(b, entry, self.bench.state.off), b.ground) < 100.0 or b.unmapped_share > 0.3:
            return
        if not self.into_coils and any(p.kind == "coil" for p in b.parts):
            return
        self._all_back()
        self.bench.feed(Feed(entry, b.ground, self.label, 0.5))
        self.bench.read(Quantity.SUPPLY_AMPS, entry, b.ground)
        finding, warm = self.bench.heat()
        volts = {n.name: self._volts(n.name) for n in b.nets if n.rail and n.nominal and b.pins_on[n.name]}
        self.bench.feed_off()
        self.bench.discharge()
        if finding is HeatFinding.PART:
            for name in warm:
                self._try_new(b.part(name))
        for part in self._behind_missing(volts):
            self._try_new(part)

    def _behind_missing(self, volts: dict[str, float]) -> Iterator[Part]:
        """Suppliers of rails that are missing while their own input is there."""
        b = self.board
        for net, value in volts.items():
            nominal = b.net(net).nominal or 0.0
            if 0.75 * nominal < value < 1.2 * nominal:
                continue
            group = next(g for g in sense.joined_groups(b) if net in g)
            for part in sense.suppliers(b, group):
                inputs = [n for n in part.nets if n in volts and n not in group]
                if not inputs or any(volts[n] > 0.7 * (b.net(n).nominal or 1.0) for n in inputs):
                    yield part

    def _try_new(self, part: Part) -> None:
        """A new one in, and the board tried: its cure is the proof."""
        if part.name in self.cleared:
            return
        self.cleared.add(part.name)
        self._tried_as_it_is()
        self.guess = Named((part.name,), "open", (), 0.3)
        self.bench.replace(part.name)
        self._all_back()
        if self.bench.try_board():
            self.proven.append(Named((part.name,), "open", (), 0.9))
            raise Done

    def _resistors(self) -> None:
        """Resistors whose value is known, read in place: other paths only lower it."""
        parts = [p for p in self.board.parts if p.kind == "resistor" and p.value is not None and len(p.nets) == 2]
        for part in parts[:SURVEYED]:
            ends = [next(f"{part.name}.{p.number}" for p in part.pins if p.net == n) for n in part.nets]
            known = part.value.median if part.value is not None else 0.0
            if part.name not in self.bench.state.off and self._ohms(*ends) > 1.15 * known + 2.0:
                self._settle_open(part)

    def _signals(self) -> None:
        """Diode mode on lines that are no rail, those at converters first: one at nothing is held down."""
        b = self.board
        groups = [n for g in sense.joined_groups(b) if len(g) > 1 for n in g]
        near = [n for p in b.parts if p.kind in sense.POWER for n in p.nets]
        every = dict.fromkeys((*near, *(n.name for n in b.nets if len(b.pins_on[n.name]) > 1)))
        for net in [n for n in every if n != b.ground and not b.net(n).rail and n not in groups][:SURVEYED]:
            pad = sense.pad_on(b, net, self.bench.state.off)
            value = self.bench.read(Quantity.DIODE, b.ground, pad)
            if value is not None and abs(value) < 0.15:
                for part in self._ordered((net,), dict.fromkeys(self.marked, 8.0))[:6]:
                    if self._off_and_read(part, net):
                        break

    def _finish(self) -> None:
        self._all_back()
        if self.bench.try_board():
            raise Done
        self.stop = "nothing more to try"

    # Readings

    def _ohms(self, red: str, black: str) -> float:
        value = self.bench.read(Quantity.OHMS, red, black)
        return 1e9 if value is None else value

    def _volts(self, net: str) -> float:
        pad = sense.pad_on(self.board, net, self.bench.state.off)
        return self.bench.read(Quantity.VOLTS, pad, self.board.ground) or 0.0

    def answer(self) -> Answer:
        """What it proved, else its best guess."""
        claims = tuple(ClaimMade("proven", named.parts[0], (named,)) for named in self.proven)
        if self.proven:
            together = tuple(dict.fromkeys(part for named in self.proven for part in named.parts))
            top = Named(together, self.proven[-1].mode, self.proven[-1].where, 0.97 if self.works else 0.7)
            return Answer(self.stop, Stated((top,), top.probability), claims, abstains=False)
        if self.works:
            return Answer("nothing wrong", Stated((Named((), "none", (), 0.9),), 0.9))
        guess = self.unmapped or self.guess
        group = (guess,) if guess is not None else ()
        stated = Stated(group, guess.probability if guess is not None else 0.0)
        return Answer(self.stop or "not decidable", stated, abstains=not group)
