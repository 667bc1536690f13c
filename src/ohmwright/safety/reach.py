"""Which nets a feed's volts can reach, and the most that each of them stands."""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import Board, BoardState, ElementKind
from ohmwright.operation.wiring import wiring_of

PASSES_POWER = 100.0
"""Resistance up to which a part passes power on to the next net. [Ω]"""
LEAST_DROP = 0.15
"""The least a junction on the way takes off. [V]"""
UNKNOWN_RAIL = 0.8
"""What an inner rail of unknown rating is held to stand. [V] common practice, no source"""
SUPPLY_ROLES = frozenset({"VDD", "VCC", "VIN", "IN", "OUT", "SYS", "BAT", "VOUT"})


@dataclass(frozen=True, slots=True)
class Reached:
    """A net within reach of a feed.

    Parameters
    ----------
    drop : float
        The least that junctions on the way take off. [V]
    stands : float or None
        The most it stands; None for a signal of unknown rating. [V]
    why : str
    """

    net: str
    drop: float
    stands: float | None
    why: str


def reached_from(board: Board, state: BoardState, net: str, label_volts: dict[str, float]) -> tuple[Reached, ...]:
    """All nets that a feed into one net can reach, body diodes and switches included.

    Parameters
    ----------
    label_volts : dict
        Volts printed at power entries, by net.
    """
    wiring = wiring_of(board)
    onward: dict[str, list[tuple[str, float]]] = {}
    for element in wiring.elements:
        if element.part in state.off:
            continue
        if element.kind is ElementKind.JUNCTION:
            onward.setdefault(element.a, []).append((element.b, LEAST_DROP))
        elif element.median <= PASSES_POWER:
            onward.setdefault(element.a, []).append((element.b, 0.0))
            onward.setdefault(element.b, []).append((element.a, 0.0))
    for a, b in wiring.wires(state):
        onward.setdefault(a, []).append((b, 0.0))
        onward.setdefault(b, []).append((a, 0.0))
    drops = {net: 0.0}
    queue = [net]
    while queue:
        here = queue.pop(0)
        for there, drop in onward.get(here, ()):
            total = drops[here] + drop
            if there != board.ground and total < drops.get(there, 1e9) - 1e-12:
                drops[there] = total
                queue.append(there)
    return tuple(_rated(board, name, drop, label_volts) for name, drop in sorted(drops.items()))


def _rated(board: Board, name: str, drop: float, label_volts: dict[str, float]) -> Reached:
    net = board.net(name)
    limits: list[tuple[float, str]] = []
    if net.rated is not None:
        limits.append((net.rated, f"{name} is rated {net.rated:g} V"))
    for part, _ in board.pins_on[name]:
        if part.rating.volts is not None and len(part.nets) == 2 and board.ground in part.nets:
            limits.append((part.rating.volts, f"{part.name} on {name} is rated {part.rating.volts:g} V"))
    if name in label_volts:
        limits.append((label_volts[name], f"the label at {name} says {label_volts[name]:g} V"))
    elif net.nominal is not None:
        limits.append((1.05 * net.nominal, f"{name} works at {net.nominal:g} V"))
    if not limits and (net.rail or any(pin.role in SUPPLY_ROLES for _, pin in board.pins_on[name])):
        limits.append((UNKNOWN_RAIL, f"nobody knows what {name} stands, so {UNKNOWN_RAIL:g} V counts"))
    if not limits:
        return Reached(name, drop, None, "")
    stands, why = min(limits)
    return Reached(name, drop, stands, why)
