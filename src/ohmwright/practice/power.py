"""What parts do to power once they are fed: switches that close, converters that run, loads that wake.

A rough account of behaviour, all numbers estimates: a converter holds its output until its own limit, pays
for it at its input, and lets go of an input that sags below what it needs. On an overloaded output a real
converter gives up and tries again; what is shown here is the attempt.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ohmwright.circuit import Board, Part
from ohmwright.practice.chance import about, dice_for

GAIN = 0.9
"""Share of the input power that a switching converter hands on. [1]"""
OVERLOAD = 12.0
"""Power a switching converter takes while its output cannot rise. [W]"""


@dataclass(frozen=True, slots=True)
class Pass:
    """A switch in a power path.

    Parameters
    ----------
    needs : float
        Volts at either end from which it closes. [V]
    ohms : float
        When closed. [Ω]
    gate : (str, str) or None
        Gate and source nets: joined to each other, they keep it open.
    enable : str or None
        A net that must be high.
    follows : bool
        Whether it closes only while its own part's converter runs.
    """

    part: str
    a: str
    b: str
    ohms: float
    needs: float
    gate: tuple[str, str] | None = None
    enable: str | None = None
    follows: bool = False


@dataclass(frozen=True, slots=True)
class Converter:
    """A regulator: takes from one net, holds another at its target.

    Parameters
    ----------
    drive : str
        The net it drives: of a buck the switch node, on the average over a period.
    output : str
        The net that is to be held.
    target : float
        [V]
    start : float
        Volts at its input from which it starts. [V]
    limit : float
        Most it delivers. [A]
    feedback, enable, supply : str or None
        Nets of its feedback pin, enable pin, and the supply of its own that must be there.
    """

    part: str
    source: str
    drive: str
    output: str
    target: float
    start: float
    limit: float
    linear: bool
    feedback: str | None = None
    enable: str | None = None
    supply: str | None = None

    @property
    def lets_go(self) -> float:
        """Volts at its input below which it takes nothing. [V]"""
        return 0.8 * self.start

    def taken(self, out_volts: float, out_amps: float, in_volts: float) -> float:
        """Amperes it wants at its input. [A]"""
        if self.linear:
            return out_amps + 1e-4
        watts = out_volts * out_amps / GAIN + 0.04 * out_amps**2 + 0.012
        if out_amps > 0.97 * self.limit and out_volts < 0.7 * self.target:
            watts = max(watts, OVERLOAD)
        return watts / max(in_volts, self.lets_go)


@dataclass(frozen=True, slots=True)
class Load:
    """What an IC draws from a rail once it works. [A], [V]"""

    part: str
    net: str
    amps: float
    wakes: float


def passes_of(board: Board, seed: int) -> tuple[Pass, ...]:
    """All switches in power paths."""
    return tuple(p for part in board.parts for p in _passes(board, part, seed))


def converters_of(board: Board) -> tuple[Converter, ...]:
    """All regulators whose output's volts are known."""
    return tuple(c for part in board.parts for c in _converters(board, part))


def loads_of(board: Board, seed: int) -> tuple[Load, ...]:
    """What wakes on each rail of known volts; core rails draw by their resistance alone."""
    found = []
    for part in board.parts:
        if part.kind != "ic":
            continue
        for net in dict.fromkeys(p.net for p in part.pins_of_role("VDD") if p.net):
            nominal = board.net(net).nominal
            if nominal is not None and nominal > 1.4:
                amps = about(dice_for(seed, "awake", part.name, net), 0.7e-3 * len(part.pins), 0.4)
                found.append(Load(part.name, net, amps, 0.85 * nominal))
    return tuple(found)


def _net(part: Part, role: str) -> str | None:
    return next((pin.net for pin in part.pins_of_role(role) if pin.net), None)


def _enable(board: Board, part: Part) -> str | None:
    """The net of the enable pin, where something else is on it too."""
    net = _net(part, "EN")
    return net if net is not None and len(board.pins_on[net]) > 1 else None


def _told(part: Part, name: str, usual: float) -> float:
    told = dict(part.parameters).get(name)
    return told.median if told else usual


def _passes(board: Board, part: Part, seed: int) -> Iterator[Pass]:
    dice = dice_for(seed, "closed", part.name)
    told = dict(part.parameters)
    if part.kind in ("fet-n", "fet-p") and "passes" in told:
        drain, source, gate = (_net(part, role) for role in ("drain", "source", "gate"))
        if drain and source and drain != source:
            ohms = about(dice, _told(part, "on_resistance", 0.011), 0.2)
            yield Pass(part.name, drain, source, ohms, told["passes"].median, (gate, source) if gate else None)
    if part.kind == "load-switch":
        a, b = _net(part, "IN"), _net(part, "OUT")
        if a and b and a != b:
            ohms = about(dice, _told(part, "on_resistance", 0.045), 0.25)
            yield Pass(part.name, a, b, ohms, _told(part, "passes", 1.2), None, _enable(board, part))
    if part.kind == "charger":
        # The output leg of a four-switch charger hands on what its coil brings.
        a, b = _net(part, "SW2"), _net(part, "SYS")
        if a and b and a != b:
            yield Pass(part.name, a, b, about(dice, 0.02, 0.2), 1.0, follows=True)


def _converters(board: Board, part: Part) -> Iterator[Converter]:
    def made(source: str, drive: str, output: str, start: float, limit: float, *, linear: bool) -> Iterator[Converter]:
        target = _told(part, "volts", 0.0) or board.net(output).nominal
        if target and len({source, output, board.ground}) == 3:
            supply = None if linear else _net(part, "VCC")
            enable = _enable(board, part)
            feedback = _net(part, "FB")
            yield Converter(
                part.name, source, drive, output, target, _told(part, "starts", start), _told(part, "most_amps", limit),
                linear, feedback if feedback != output else None, None if enable == source else enable, supply,
            )  # fmt: skip

    if part.kind == "linear":
        source, output = _net(part, "IN"), _net(part, "OUT")
        if source and output:
            yield from made(source, output, output, 2.2, 0.35, linear=True)
    source = _net(part, "VIN")
    if source is None or part.kind not in ("buck", "charger"):
        return
    supply = _net(part, "VCC")
    if supply and supply != source and "vcc_from_outside" not in dict(part.parameters):
        # The controller's own supply is a small linear regulator inside it.
        volts = min(board.net(supply).nominal or 5.0, 5.5)
        yield Converter(part.name, source, supply, supply, volts, 2.4, 0.07, linear=True)
    switch = _net(part, "SW") or _net(part, "SW1")
    system = _net(part, "SYS") if part.kind == "charger" else None
    out = system or (_behind_coil(board, switch) if switch else None)
    if switch and out:
        usual = min(4.0, 0.8 * (board.net(source).nominal or 5.0))
        yield from made(source, switch, out, usual, 5.0, linear=False)


def _behind_coil(board: Board, switch: str) -> str | None:
    for part, _ in board.pins_on[switch]:
        if part.kind == "coil" and len(part.nets) == 2:
            return next(net for net in part.nets if net != switch)
    return None
