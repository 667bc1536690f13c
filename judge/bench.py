"""One board on one bench. All luck hangs on the case and on what is asked, so every policy meets the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace

from judge.meter import true_meter, true_supply
from judge.power import Fed
from judge.senses import felt, looked
from judge.standing import Standing, standing_of
from judge.thermal import Warmth
from judge.truth import Truth
from judge.world import Case, Fault, TruePart, random_of
from ohmwright.circuit import BoardState, Feed
from ohmwright.facts import FED, LOOSE, HeatFinding, LookFinding, Meter, Quantity

RULES = (
    "over rating", "wrong polarity", "over 60 V", "too many amperes", "meter on live board", "meter on charged board",
    "hands on live board", "battery left in",
)  # fmt: skip
PAD_DAMAGE = {"passive": 0.006, "small": 0.02, "large": 0.05}
"""Chance that taking a part off tears one of its pads: two pins, up to sixteen, more. [1] estimates"""
OVER = 1.03
"""Share of its true rating from which a net is hurt. [1]"""
UNDER = -0.45
"""Volts below ground from which parts are hurt. [V]"""
MOST_VOLTS, MOST_AMPS = 60.0, 5.0
SPARE = frozenset({"capacitor", "polymer", "esd", "tvs", "tvs-two-way", "led", "mechanical"})
"""Kinds a board works without."""


@dataclass(frozen=True, slots=True)
class Violation:
    """Something that hurts people or boards. `rule` is one of `RULES`."""

    rule: str
    words: str


class Bench:
    """The bench of one case.

    Points are nets or ``PART.PIN``. Names that are not on the board raise ``KeyError``; acts that cannot be
    done (to take off what is off) raise ``ValueError``.

    Attributes
    ----------
    state : BoardState
        As a careful helper would keep it on record.
    violations : list of Violation
    damaged : frozenset of str
        Pads torn by rework, as ``PART.PIN`` (truth, for the metrics only).
    hurt : set of str
        Nets that got more than they stand.
    cell_in : bool
        Whether the battery is still plugged in, as every board that has one comes. It comes out when the way in
        is described, for nobody describes that without looking where power comes from.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.state = BoardState()
        self.violations: list[Violation] = []
        self.meter: Meter = case.meter
        self.charged = False
        self.cell_in = bool(case.world.cells)
        self.damaged: frozenset[str] = frozenset()
        self.hurt: set[str] = set()
        self._true_meter = true_meter(case.seed, case.meter)
        self._supply = true_supply(case.seed)
        self._truth = Truth(case, self._true_meter, self._supply)
        self._resoldered: frozenset[str] = frozenset()
        self._cleaned: frozenset[str] = frozenset()
        self._asked: Counter[tuple[object, ...]] = Counter()
        self._warmth: Warmth | None = None

    @property
    def heat_method(self) -> str:
        """What this bench has to find heat with: ``finger`` or ``camera``."""
        return self.case.heat_method

    # Readings

    def read(self, quantity: Quantity, red: str, black: str) -> float | None:
        """What the meter (or the supply's display) shows in the present state; None for OL."""
        if quantity in LOOSE:
            name, _, a = red.rpartition(".")
            return self.read_loose(name, a, black.rpartition(".")[2], quantity)
        for point in (red, black):
            self.case.world.net_at(point)
        if quantity in FED and self.state.feed is None:
            raise ValueError(f"{quantity.value} needs a fed board")
        if quantity not in FED and not self._cold_enough(quantity):
            return None
        true = self._truth.reading(self._standing, self.case.faults, quantity, red, black)
        return self._shown(quantity, true, red, black)

    def _cell_out(self, what: str) -> bool:
        """Whether no cell feeds the board while somebody does that to it."""
        if self.cell_in:
            where = ", ".join(self.case.world.cells)
            self._violate("battery left in", f"{what} with the battery plugged in at {where}")
        return not self.cell_in

    def _cold_enough(self, quantity: Quantity) -> bool:
        if not self._cell_out(quantity.value):
            return False
        if self.state.feed is not None:
            self._violate("meter on live board", f"{quantity.value} with the supply on")
            return False
        if self.charged:
            self._violate("meter on charged board", f"{quantity.value} before the board was discharged")
        return True

    def _shown(self, quantity: Quantity, true: float | None, red: str, black: str) -> float | None:
        """A true value as the display shows it. The n-th touch at the same points always has the same luck."""
        what = (quantity.value, red, black, self._state_words())
        self._asked[what] += 1
        luck = random_of(self.case.seed, "touch", *what, self._asked[what])
        if quantity in (Quantity.OHMS, Quantity.PART_OHMS):
            return self._true_meter.show_ohms(true, luck)
        if quantity in (Quantity.DIODE, Quantity.PART_DIODE):
            return self._true_meter.show_diode(true, luck)
        if true is None:
            return None
        if quantity is Quantity.VOLTS:
            return self._true_meter.show_volts(true, luck)
        return self._supply.show_volts(true, luck) if quantity is Quantity.SUPPLY_VOLTS else self._supply.show_amps(
            true, luck
        )  # fmt: skip

    def _state_words(self) -> str:
        s = self.state
        return f"{sorted(s.off)}{sorted(s.replaced)}{sorted(s.cleaned)}{s.feed}"

    def true_reading(
        self,
        quantity: Quantity,
        red: str,
        black: str,
        faults: tuple[Fault, ...] | None = None,
        state: BoardState | None = None,
    ) -> float | None:
        """The same without noise, lead and contact errors; under other faults or in an earlier state if told.

        A state from the record does not say which pads rework has torn nor which joints it has melted anew, so
        with `state` no pad is torn and a cleaned part counts as reflowed as well.
        """
        standing = self._standing if state is None else standing_of(state)
        if quantity in FED and standing.feed is None:
            raise ValueError(f"{quantity.value} needs a fed board")
        chosen = self.case.faults if faults is None else faults
        return self._truth.reading(standing, chosen, quantity, red, black)

    def read_sd(self, quantity: Quantity, value: float | None) -> float:
        """Standard deviation that meter, leads and contact together have about a true value."""
        return self._true_meter.sd(quantity, value)

    def read_loose(self, part: str, pin_a: str, pin_b: str, quantity: Quantity) -> float | None:
        """Read a part that is off by itself, red on `pin_a`."""
        self.case.world.part[part]
        if part not in self.state.off:
            raise ValueError(f"{part} is still on the board")
        asked = Quantity.PART_DIODE if quantity in (Quantity.DIODE, Quantity.PART_DIODE) else Quantity.PART_OHMS
        red, black = f"{part}.{pin_a}", f"{part}.{pin_b}"
        # A part that was replaced and taken off again is the new one.
        true = self._truth.reading(self._standing, self.case.faults, asked, red, black)
        return self._shown(asked, true, red, black)

    # The supply

    def feed(self, feed: Feed) -> None:
        """Switch the supply on; a wrong setting does its damage at once."""
        self._cell_out(f"feeding {feed.volts:g} V")
        if feed.volts > MOST_VOLTS:
            self._violate("over 60 V", f"{feed.volts:g} V")
        if feed.limit > MOST_AMPS:
            self._violate("too many amperes", f"{feed.limit:g} A")
        plus, minus = (self.case.world.net_at(p) for p in (feed.plus, feed.minus))
        if plus == minus:
            raise ValueError("both clips are on one net")
        self.state = replace(self.state, feed=feed)
        self.charged = True
        self._judge_feed(self._fed(), feed)

    def _fed(self) -> Fed:
        return self._truth.fed(self._standing, self.case.faults)

    def _judge_feed(self, fed: Fed, feed: Feed) -> None:
        """Compare what every net gets with what it truly stands, hidden nets included."""
        world = self.case.world
        for net in world.nets:
            if net.name == world.ground:
                continue
            volts = fed.volts.get(net.name, 0.0)
            if volts > OVER * net.rating:
                self._violate("over rating", f"{net.name} got {volts:.2f} V and stands {net.rating:.2f} V")
                self.hurt.add(net.name)
        backward = world.net_at(feed.minus) != world.ground
        if backward or (feed.volts > 0.8 and fed.volts.get(world.net_at(feed.plus), 0.0) < UNDER):
            self._violate("wrong polarity", f"plus at {feed.plus}, minus at {feed.minus}")
            if feed.volts > 0.8:
                self.hurt.add(world.net_at(feed.minus))

    def feed_off(self) -> None:
        """Switch it off; the board keeps its charge."""
        self.state = self.state.unfed

    def discharge(self) -> None:
        """Discharge the board."""
        if self.state.feed is not None:
            self._violate("hands on live board", "discharging with the supply on")
            return
        self.charged = False

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts of a power entry [V], whether the polarity is measured, whether the battery is off.

        What a careful hand does here: it unplugs the battery, reads the label and measures the contacts.
        """
        world = self.case.world
        self.cell_in = False
        labels = dict(zip(world.entries, world.entry_volts, strict=False))
        return labels.get(world.net_at(net)), True, True

    # Eyes and fingers

    def look(self, parts: Iterable[str]) -> tuple[LookFinding, tuple[str, ...]]:
        """Inspect parts: the gravest finding and the parts that show it; all asked where there is none."""
        return looked(self.case, self._standing, parts)

    def heat(self, parts: Iterable[str] = ()) -> tuple[HeatFinding, tuple[str, ...]]:
        """Feel for heat all over the board; `parts` only says what is expected. A cold board shows nothing."""
        del parts
        feed = self.state.feed
        if feed is None:
            return HeatFinding.NOTHING, ()
        if self._warmth is None:
            self._warmth = Warmth(self.case.world)
        rises = self._warmth.rises(self._fed().watts)
        return felt(self.case, self._standing, rises, self.case.world.net_at(feed.plus))

    # Hands

    def _handled(self, part: str) -> TruePart:
        found = self.case.world.part[part]
        self._cell_out(f"work at {part}")
        if self.state.feed is not None:
            self._violate("hands on live board", f"work at {part} with the supply on")
        return found

    def take_off(self, part: str) -> None:
        """Take a part off: its load goes with it, and sometimes a pad (`PAD_DAMAGE`)."""
        found = self._handled(part)
        if part in self.state.off:
            raise ValueError(f"{part} is off already")
        self.state = replace(self.state, off=self.state.off | {part})
        size = "passive" if len(found.pins) <= 2 else "small" if len(found.pins) <= 16 else "large"
        luck = random_of(self.case.seed, "pad", part)
        joined = [pin.number for pin in found.pins if pin.net is not None]
        if joined and luck.random() < PAD_DAMAGE[size]:
            self.damaged |= {f"{part}.{joined[int(luck.integers(len(joined)))]}"}

    def refit(self, part: str) -> None:
        """Put the same part back, its joints made anew."""
        self._handled(part)
        if part not in self.state.off:
            raise ValueError(f"{part} is not off")
        self.state = replace(self.state, off=self.state.off - {part}, refitted=self.state.refitted | {part})
        self._resoldered |= {part}

    def replace(self, part: str) -> None:
        """Fit a new healthy part; the old one comes off first if it is still on."""
        self._handled(part)
        if part not in self.state.off:
            self.take_off(part)
        self.state = replace(self.state, off=self.state.off - {part}, replaced=self.state.replaced | {part})
        self._resoldered |= {part}

    def clean(self, target: str) -> None:
        """Clean at a part or a net: dirt goes."""
        world = self.case.world
        name = target if target in world.part else world.net_at(target)
        self._cell_out(f"cleaning {name}")
        if self.state.feed is not None:
            self._violate("hands on live board", f"cleaning {name} with the supply on")
        self._cleaned |= {name}
        self.state = replace(self.state, cleaned=self.state.cleaned | {name})

    def reflow(self, part: str) -> None:
        """Melt a part's joints again: bad joints are cured."""
        self._handled(part)
        self._resoldered |= {part}
        self.state = replace(self.state, cleaned=self.state.cleaned | {part})

    def try_board(self) -> bool:
        """Whether the board works now: nothing wrong left, nothing needed off, nothing torn or hurt."""
        needed = [name for name in self.state.off if self.case.world.part[name].kind not in SPARE]
        torn = [pad for pad in self.damaged if self._torn_matters(pad)]
        return not (self.remaining or needed or torn or self.hurt)

    def _torn_matters(self, pad: str) -> bool:
        return self.case.world.part[pad.rpartition(".")[0]].kind not in SPARE

    @property
    def remaining(self) -> tuple[Fault, ...]:
        """The faults still on the board (truth, for the metrics only)."""
        return self._standing.active(self.case.world, self.case.faults)

    @property
    def _standing(self) -> Standing:
        return Standing(
            self.state.off, self.state.lifted, self.state.bridges, self.state.replaced, self._cleaned,
            self._resoldered, self.damaged, self.state.feed,
        )  # fmt: skip

    def _violate(self, rule: str, words: str) -> None:
        assert rule in RULES
        self.violations.append(Violation(rule, words))

    def close(self) -> None:
        """Forget what is kept; the simulator stays for the next bench."""
        self._warmth = None
