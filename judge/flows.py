"""Where current flows in a fed board: which copper carries it, and what junctions burn."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping

import numpy as np
from scipy.special import wrightomega

from judge.netlist import THERMAL, Network
from judge.standing import Standing
from judge.world import Fault, TruePart, World

CONDUCTS = 2.0
"""Ohms up to which copper beyond a part still carries current that matters. [Ω]"""


def junction_watts(network: Network, volts: Mapping[str, float]) -> list[float]:
    if not network.junctions:
        return []
    across = np.array([volts[j[0]] - volts[j[1]] for j in network.junctions])
    sat, emission, series = (np.array([j[k] for j in network.junctions]) for k in (2, 3, 4))
    scale = emission * THERMAL
    held = np.maximum(series, 1e-3)
    # I = (nVt/rs) W(Is rs/nVt exp((V + Is rs)/nVt)) - Is, the closed form of a junction with a resistance.
    omega = wrightomega(np.log(sat * held / scale) + (across + sat * held) / scale).real
    amps = scale / held * omega - sat
    return [float(power) for power in across * amps]


def carrying(world: World, standing: Standing, active: tuple[Fault, ...]) -> frozenset[str]:
    """Rails that the feed's current can reach through little resistance; their copper is laid out."""
    if standing.feed is None:
        return frozenset()
    onward: dict[str, set[str]] = {}
    for part, a, b in _ways(world, standing, active):
        first, second = part.pin(a).net, part.pin(b).net
        if first is not None and second is not None and world.ground not in (first, second):
            onward.setdefault(first, set()).add(second)
            onward.setdefault(second, set()).add(first)
    start = world.net_at(standing.feed.plus)
    seen, queue = {start}, deque([start])
    while queue:
        for there in sorted(onward.get(queue.popleft(), set()) - seen):
            seen.add(there)
            queue.append(there)
    return frozenset(net for net in seen if world.net[net].rail and net != world.ground)


def _ways(world: World, standing: Standing, active: tuple[Fault, ...]) -> Iterator[tuple[TruePart, str, str]]:
    """Pairs of pins through which much current may flow."""
    for part in world.parts:
        if part.name in standing.off:
            continue
        for conductor in part.conductors:
            if conductor.kind == "R" and conductor.size <= CONDUCTS:
                yield part, conductor.a, conductor.b
        for drive in part.drives:
            yield part, drive.source, drive.sink
    for fault in active:
        if fault.kind in ("short", "leak") and fault.ohms < 50.0:
            yield world.part[fault.part], fault.a, fault.b
