"""Points to be read in one go, in the order that moves the hands least."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ohmwright.circuit import Board
from ohmwright.facts import FED, Meter, Quantity
from ohmwright.geometry import Pad, pad_centres
from ohmwright.planning.advice import Hump
from ohmwright.planning.round import Spot, Stop, round_order, round_seconds
from ohmwright.usecases.desk import CaseView

MOST = 24
"""Stops of one round: more nobody does without a rest. [1]"""
FEWEST = 4
"""With fewer advised stops the rails are added, which a survey reads anyway. [1]"""

__all__ = ["Hump", "Meter", "Stop", "healthy_band", "planned_round", "round_seconds"]


def planned_round(view: CaseView, quantity: str = "") -> tuple[Stop, ...]:
    """The readings that are advised now and need nothing but probes, and the rails not read yet, in a good order.

    Parameters
    ----------
    quantity : str
        Only readings of this kind, so that the dial need not be turned; by default of all kinds.
    """
    board, fed = view.board, view.facts.state.feed is not None
    read = {(r.quantity.value, r.red, r.black) for r in view.facts.readings if r.state == view.facts.state}
    stops: dict[tuple[str, str, str], Stop] = {}
    for key in _wished(view, fed):
        if key not in stops and key not in read and quantity in ("", key[0]) and len(stops) < MOST:
            stops[key] = Stop(*key)
    places = _places(board)
    return round_order([_placed(stop, board, places) for stop in stops.values()])


def healthy_band(view: CaseView, stop: Stop) -> Hump | None:
    """What a healthy board is expected to show there, where the advice says so."""
    for test in view.advice.tests:
        if any((s.quantity, s.red, s.black) == (stop.quantity, stop.red, stop.black) for s in test.steps):
            return next((h for h in test.humps if h.key.split(":")[0] in ("none", "healthy")), None)
    return None


def _wished(view: CaseView, fed: bool) -> Iterator[tuple[str, str, str]]:
    advised = 0
    for test in view.advice.tests:
        if all(step.act == "read" for step in test.steps):
            for step in test.steps:
                if (Quantity(step.quantity) in FED) == fed and not step.quantity.startswith(("supply", "part")):
                    advised += 1
                    yield step.quantity, step.red, step.black
    if advised < FEWEST:
        board = view.board
        for net in board.nets:
            if net.rail and net.name != board.ground:
                # Diode mode: red on ground, as the advice has it; the other way round nearly every rail reads alike.
                yield ("volts", net.name, board.ground) if fed else ("diode", board.ground, net.name)


def _places(board: Board) -> dict[str, tuple[Pad, ...]]:
    """Pads of each net whose place is known."""
    found: dict[str, list[Pad]] = {}
    for part in board.parts:
        if part.place is None:
            continue
        nets = {pin.number: pin.net for pin in part.pins}
        for pad in pad_centres(part):
            net = nets.get(pad.pin)
            if net is not None:
                found.setdefault(net, []).append(pad)
            found.setdefault(f"{part.name}.{pad.pin}", []).append(pad)
    return {name: tuple(pads) for name, pads in found.items()}


def _placed(stop: Stop, board: Board, places: dict[str, tuple[Pad, ...]]) -> Stop:
    """The stop with its places: a big pad of each net, the second near the first; a clip stays on one big ground."""
    clipped = stop.red == board.ground
    first, second = (stop.black, stop.red) if clipped else (stop.red, stop.black)
    there = _roomy(places.get(first, ()))
    near = [p for p in places.get(second, ()) if there is None or p.side == there.side]
    by = min(near, key=lambda p: (p.x_mm - there.x_mm) ** 2 + (p.y_mm - there.y_mm) ** 2) if there and near else None
    if second == board.ground:
        by = _roomy(near) or by
    red, black = (by, there) if clipped else (there, by)
    return Stop(stop.quantity, stop.red, stop.black, _spot(red), _spot(black))


def _roomy(pads: Iterable[Pad]) -> Pad | None:
    return max(pads, key=lambda pad: pad.width_mm * pad.height_mm, default=None)


def _spot(pad: Pad | None) -> Spot | None:
    return None if pad is None else Spot(pad.x_mm, pad.y_mm, pad.side)
