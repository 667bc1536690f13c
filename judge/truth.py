"""What the board of a case truly shows, asked for reading by reading and never asked twice."""

from __future__ import annotations

from collections import OrderedDict

from judge.meter import INPUT, TrueMeter, TrueSupply, open_diode, open_ohms
from judge.netlist import Network
from judge.power import Fed, Feeder
from judge.spice import Simulator, simulator
from judge.standing import Standing
from judge.wiring import Wired, Wiring
from judge.world import Case, Fault
from ohmwright.facts import LOOSE, Quantity

KEPT = 6
"""Networks kept as objects. [1]"""
SOFT = 2e-3
"""Volts from which the voltmeter's own resistance is reckoned with at signal nets. [V]"""
Key = tuple[Standing, tuple[Fault, ...]]


class Truth:
    """Noise-free readings of one case."""

    def __init__(self, case: Case, meter: TrueMeter, supply: TrueSupply, runner: Simulator | None = None) -> None:
        self.case = case
        self.meter = meter
        self.runner = runner or simulator()
        self.wiring = Wiring(case.world, case.seed)
        self.feeder = Feeder(self.wiring, self.runner, supply.leads)
        self._cold: OrderedDict[Key, Wired] = OrderedDict()
        self._fed: OrderedDict[Key, Fed] = OrderedDict()
        self._alone: OrderedDict[tuple[str, bool, tuple[Fault, ...]], Wired] = OrderedDict()
        self._known: dict[tuple[Key, Quantity, str, str], float | None] = {}

    def reading(
        self, standing: Standing, faults: tuple[Fault, ...], quantity: Quantity, red: str, black: str
    ) -> float | None:
        """The noise-free reading; None for OL.

        Parameters
        ----------
        red, black : str
            Nets or ``PART.PIN``; pins of a part that is off for the quantities read at a loose part.
        """
        cold = quantity in (Quantity.OHMS, Quantity.DIODE) or quantity in LOOSE
        key = (standing.unfed if cold else standing, faults)
        asked = (key, quantity, *self._same(quantity, red, black))
        if asked not in self._known:
            self._known[asked] = self._solve(key, quantity, red, black)
        return self._known[asked]

    def _same(self, quantity: Quantity, red: str, black: str) -> tuple[str, str]:
        """Cold readings at two pads of one net are one reading."""
        if quantity in (Quantity.OHMS, Quantity.DIODE):
            return self.case.world.net_at(red), self.case.world.net_at(black)
        return red, black

    def _solve(self, key: Key, quantity: Quantity, red: str, black: str) -> float | None:
        if quantity in LOOSE:
            return self._loose(key, quantity, red, black)
        if quantity in (Quantity.OHMS, Quantity.DIODE):
            wired = self.cold(key)
            plus, minus = self.wiring.point(wired, red), self.wiring.point(wired, black)
            return self._cold_reading(quantity, wired.network, plus, minus)
        fed = self.fed(key[0], key[1])
        if quantity is Quantity.SUPPLY_VOLTS:
            return fed.terminal
        if quantity is Quantity.SUPPLY_AMPS:
            return fed.amps
        return self._volts(fed, red, black)

    def _cold_reading(self, quantity: Quantity, network: Network, plus: str, minus: str) -> float | None:
        if plus == minus:
            return 0.0

        def port(amps: float) -> float:
            found = self.runner.volts(network, ((minus, plus, amps),), (plus, minus))
            return found[plus] - found[minus]

        acts = self.meter.acts
        return open_diode(port, acts) if quantity in (Quantity.DIODE, Quantity.PART_DIODE) else open_ohms(port, acts)

    def _loose(self, key: Key, quantity: Quantity, red: str, black: str) -> float | None:
        name, _, a = red.rpartition(".")
        other, _, b = black.rpartition(".")
        part = self.case.world.part[name]
        if name != other:
            raise ValueError(f"{red} and {black} are not two pins of one part")
        part.pin(a), part.pin(b)
        alone = (name, name in key[0].replaced, key[1])
        if alone not in self._alone:
            self._alone[alone] = self.wiring.loose(part, key[0], key[1])
            if len(self._alone) > KEPT:
                self._alone.popitem(last=False)
        wired = self._alone[alone]
        if not ({a, b} <= {*wired.network.nodes, wired.network.ground}):
            return None
        return self._cold_reading(quantity, wired.network, a, b)

    def cold(self, key: Key) -> Wired:
        """The unfed network, the same object as long as it is kept."""
        if key not in self._cold:
            wired = self.wiring.board(*key)
            known = {*wired.network.nodes, self.case.world.ground}
            # A net whose parts are all off is still there to be probed.
            for net in self.case.world.net:
                if net not in known:
                    wired.resist("", net, self.case.world.ground, 1e12)
            self._cold[key] = wired
            if len(self._cold) > KEPT:
                self._cold.popitem(last=False)
        self._cold.move_to_end(key)
        return self._cold[key]

    def fed(self, standing: Standing, faults: tuple[Fault, ...]) -> Fed:
        """The board as it is fed."""
        key = (standing, faults)
        if key not in self._fed:
            self._fed[key] = self.feeder.fed(*key)
            if len(self._fed) > 4 * KEPT:
                self._fed.popitem(last=False)
        return self._fed[key]

    def _volts(self, fed: Fed, red: str, black: str) -> float:
        world = self.case.world
        nodes = [fed.pads.get(p, world.net_at(p)) for p in (red, black)]
        across = fed.volts.get(nodes[0], 0.0) - fed.volts.get(nodes[1], 0.0)
        firm = all(world.net[world.net_at(p)].rail or world.net_at(p) == world.ground for p in (red, black))
        if firm or abs(across) < SOFT or not set(nodes) <= {*fed.volts}:
            return across
        # The meter's own 10 MΩ pulls on a signal net: one secant step is exact for what is linear there.
        found = self.runner.volts(fed.network, ((nodes[0], nodes[1], across / INPUT),), nodes)
        loaded = found[nodes[0]] - found[nodes[1]]
        inner = (across - loaded) / (across / INPUT)
        return across * INPUT / (INPUT + max(inner, 0.0))
