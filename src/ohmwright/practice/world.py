"""The practice bench itself: a board, a meter, a supply and hands, with the truth inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from ohmwright.circuit import Board
from ohmwright.errors import DataError, RefusedError, UnknownNameError
from ohmwright.facts import HeatFinding, LookFinding, Quantity
from ohmwright.practice.chance import Dice, dice_for
from ohmwright.practice.fault_json import Fault
from ohmwright.practice.fed import Clips, FedBoard, fed_board
from ohmwright.practice.gauges import INPUT, TrueMeter, TrueSupply, meter_for, supply_for
from ohmwright.practice.senses import SENSES, felt, seen_at
from ohmwright.practice.solve import solved
from ohmwright.practice.specimen import Specimen

SPARE = frozenset({"capacitor", "polymer", "esd", "tvs", "tvs-two-way", "led", "mechanical"})
"""Kinds of parts without which a board still works well enough to be tried."""
MARGIN = 1.02
"""Share of its rating at which a part is hurt. [1]"""
MOST_VOLTS = 60.0
MOST_AMPS = 10.0


@dataclass(frozen=True, slots=True)
class Hurt:
    """A net that got more than something on it stands. [V]"""

    net: str
    volts: float
    rated: float


@dataclass
class World:
    """Everything on the bench.

    Parameters
    ----------
    seed : int
        Draws true values, meter errors and luck. [1]
    running : bool
        Whether switching converters start once they are fed enough.

    Attributes
    ----------
    hurt : list of Hurt
        What was fed more than it stands, so that tests can count.
    mistakes : list of str
        Readings taken in a state that spoils them.
    """

    board: Board
    fault: Fault
    seed: int
    running: bool = True
    specimen: Specimen = field(init=False)
    meter: TrueMeter = field(init=False)
    supply: TrueSupply = field(init=False)
    hurt: list[Hurt] = field(default_factory=list)
    mistakes: list[str] = field(default_factory=list)
    clips: tuple[str, str] | None = None
    volts: float = 0.0
    limit: float = 0.1
    output: bool = False
    charged: bool = False
    _touches: int = 0
    _fed: FedBoard | None = None

    def __post_init__(self) -> None:
        self.specimen = Specimen(self.board, self.fault, self.seed)
        self.meter, self.supply = meter_for(self.seed), supply_for(self.seed)

    # Readings

    def read(self, quantity: Quantity, red: str, black: str) -> float | None:
        """What the meter shows; None for OL. Points are nets or ``PART.PIN``."""
        dice = self._touch()
        if quantity in (Quantity.PART_OHMS, Quantity.PART_DIODE):
            return self._read_loose(quantity, red, black, dice)
        plus, minus = self.board.net_at(red), self.board.net_at(black)
        if quantity is Quantity.VOLTS:
            return self.meter.volts(self._across(plus, minus), dice)
        if quantity not in (Quantity.OHMS, Quantity.DIODE):
            raise DataError(f"The meter does not read {quantity.value}.", hint="read it from the supply")
        if self.output:
            self.mistakes.append(f"{quantity.value} with the supply on")
            return None
        if self.charged:
            self.mistakes.append(f"{quantity.value} on a board that was not discharged")
        network = self.specimen.network()
        if quantity is Quantity.DIODE:
            return self.meter.diode(network, plus, minus, dice)
        return self.meter.ohms(network, plus, minus, dice)

    def _read_loose(self, quantity: Quantity, red: str, black: str, dice: Dice) -> float | None:
        name, _, a = red.rpartition(".")
        other, _, b = black.rpartition(".")
        if name != other or name not in self.specimen.off:
            raise DataError(
                f"{red} and {black} are not two pins of one part that is off.", hint="take the part off first"
            )
        part = self.board.part(name)
        network = self.specimen.loose_network(part)
        read = self.meter.diode if quantity is Quantity.PART_DIODE else self.meter.ohms
        return read(network, part.pin(a).number, part.pin(b).number, dice)

    def _across(self, plus: str, minus: str) -> float:
        """Volts between two nets with the meter's own resistance across them. [V]"""
        fed = self._now()
        bare = fed.network if fed is not None else self.specimen.network()
        return solved(replace(bare, resistances=[*bare.resistances, (plus, minus, INPUT)])).across(plus, minus)

    def display(self) -> tuple[float, float, bool]:
        """The supply's volts, amperes, and whether it limits. [V], [A]"""
        fed = self._now()
        if fed is None:
            return 0.0, 0.0, False
        return *self.supply.display(fed.terminal_volts, fed.amps, self._touch()), fed.limiting

    def _touch(self) -> Dice:
        self._touches += 1
        return dice_for(self.seed, "touch", self._touches)

    def same_touch(self) -> None:
        """The probes have not moved: the next reading is of the touch before."""
        self._touches = max(0, self._touches - 1)

    # The supply

    def set_supply(self, volts: float, limit: float) -> None:
        """Set volts and limit. [V], [A]"""
        if not (0.0 <= volts <= MOST_VOLTS and 0.0 <= limit <= MOST_AMPS):
            raise DataError(f"This supply gives 0 to {MOST_VOLTS:g} V and 0 to {MOST_AMPS:g} A.")
        self.volts, self.limit = volts, limit
        self._changed()

    def switch(self, on: bool) -> None:
        """Output on or off."""
        if on and self.clips is None:
            raise RefusedError("The clips hang in the air.", hint="clip plus and minus to the board first")
        self.charged |= self.output
        self.output = on
        self._changed()

    def clip(self, plus: str, minus: str) -> None:
        """Put the clips on two points."""
        a, b = self.board.net_at(plus), self.board.net_at(minus)
        if a == b:
            raise DataError("Both clips are on one net.", hint="put them on two")
        self._need_off()
        self.clips = (a, b)

    def _changed(self) -> None:
        self._fed = None
        self._now()

    def _now(self) -> FedBoard | None:
        """The board as it is fed, solved once per state; what it does to the board is kept."""
        if not self.output or self.clips is None or self.volts <= 0.0 or self.limit <= 0.0:
            return None
        if self._fed is None:
            clips = Clips(*self.clips, self.volts, self.limit, self.supply.leads)
            self._fed = fed_board(self.specimen, clips, running=self.running)
            self.hurt += [h for h in self._overstressed(self._fed) if h.net not in {old.net for old in self.hurt}]
        return self._fed

    def _overstressed(self, fed: FedBoard) -> list[Hurt]:
        found = []
        for net in self.board.nets:
            stands = [net.rated] if net.rated is not None else []
            for part, _ in self.board.pins_on[net.name]:
                across = len(part.nets) == 2 and self.board.ground in part.nets
                if part.rating.volts is not None and across and part.name not in self.specimen.off:
                    stands.append(part.rating.volts)
            volts = fed.volts.get(net.name, 0.0)
            if net.name != self.board.ground and stands and volts > MARGIN * min(stands):
                found.append(Hurt(net.name, volts, min(stands)))
        return found

    # Hands

    def _need_off(self) -> None:
        if self.output:
            raise RefusedError("The supply is on.", hint="switch it off first")

    def take_off(self, part: str) -> None:
        """Take a part off."""
        self._need_off()
        self.specimen.take_off(part)

    def refit(self, part: str) -> None:
        """Put the same part back."""
        self._need_off()
        self.specimen.refit(part)

    def replace(self, part: str) -> None:
        """Fit a sound one."""
        self._need_off()
        self.specimen.replace(part)

    def clean(self, target: str) -> None:
        """Clean around a part or along a net."""
        self._need_off()
        self.specimen.clean(target)

    def reflow(self, part: str) -> None:
        """Melt a part's joints again."""
        self._need_off()
        self.specimen.reflow(part)

    def bridge(self, a: str, b: str) -> None:
        """Join two points by a wire."""
        self._need_off()
        self.specimen.wires.add((self.board.net_at(a), self.board.net_at(b)))

    def look(self, parts: Sequence[str]) -> dict[str, LookFinding]:
        """What the eye finds at each part."""
        return seen_at(self.specimen, parts)

    def feel(self, method: str) -> tuple[HeatFinding, tuple[str, ...]]:
        """Where it is warm."""
        if method not in SENSES:
            raise UnknownNameError.among("way to feel heat", method, SENSES)
        fed = self._now()
        return (HeatFinding.NOTHING, ()) if fed is None else felt(self.specimen, fed.watts, method)

    def discharge(self) -> None:
        """Discharge the board."""
        self._need_off()
        self.charged = False

    def try_board(self) -> bool:
        """Whether it works: no defect left on it, nothing that matters off, nothing hurt."""
        left = [d for d in self.specimen.defects if d.part not in self.specimen.off or d.mode == "dirt"]
        needed = {name for name in self.specimen.off if self.board.part(name).kind not in SPARE}
        return not (left or needed or self.hurt)
