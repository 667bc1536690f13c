"""What a net is called: by its user, by a pin on it, or by the parts it runs between."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

from ohmwright.circuit import Board, Part, Pin

_FOUND_AT = re.compile(r"the (\S+) net(?: \(e\d+\))?\Z")
DULL = frozenset({"", "NC", "N/C", "GND", "AGND", "PGND", "VSS", "EP", "PAD", "TAB", "DNC"})
"""Names of pins that say nothing of the net they are on."""
STRONG = ("SW", "OUT", "VIN", "BOOT", "FB", "EN", "VDD")
"""Roles by which a net is called before other names, best first."""


def net_names(board: Board) -> dict[str, str]:
    """What each net is called on the page; nets that somebody named keep their names.

    A net that nobody named is called by a pin's name (``SW of U1``), as a rail behind a coil (``rail at L3``),
    or for the pad it was found at.
    """
    found = {net.name: _name(board, net.name) for net in board.nets}
    twice = {words for words, count in Counter(found.values()).items() if count > 1}
    return {net: f"{words} ({_pad(board, net)})" if words in twice and words != net else words
            for net, words in found.items()}  # fmt: skip


def _name(board: Board, net: str) -> str:
    if net == board.ground or not _FOUND_AT.match(net):
        return net
    pins = board.pins_on[net]
    coil = next((p for p, _ in pins if p.kind in ("coil", "ferrite")), None)
    switch = next(((p, q) for p, q in pins if "SW" in (q.role, q.name.upper())), None)
    if switch is not None:
        return f"{switch[1].name or 'SW'} of {switch[0].name}"
    if coil is not None and any(p.kind in ("capacitor", "polymer") for p, _ in pins):
        return f"rail at {coil.name}"
    told = _by_pin(pins)
    if told:
        return told
    if coil is not None:
        return f"net at {coil.name}"
    return f"net at {_pad(board, net)}"


def _by_pin(pins: tuple[tuple[Part, Pin], ...]) -> str:
    """The name of a chip's pin, the most telling one."""
    named = [(p, q) for p, q in pins if len(p.pins) > 2 and (q.name or q.role).upper() not in DULL]
    if not named:
        return ""
    order = {role: n for n, role in enumerate(STRONG)}
    part, pin = min(named, key=lambda one: (order.get(one[1].role, 99), one[0].name))
    return f"{pin.name or pin.role} of {part.name}"


def _pad(board: Board, net: str) -> str:
    found = _FOUND_AT.match(net)
    first = next((f"{p.name}.{q.number}" for p, q in board.pins_on[net]), "")
    return found[1] if found else first


def likely_ground(board: Board) -> tuple[str, str]:
    """A net that is probably ground though nobody said so, and why; empty where there is none.

    Many capacitors have one end there, and no chip's supply or switch pin.
    """
    if board.pins_on[board.ground]:
        return "", ""
    best, most = "", 0
    caps = sum(p.kind in ("capacitor", "polymer") for p in board.parts)
    for net in board.nets:
        pins = board.pins_on[net.name]
        ends = sum(p.kind in ("capacitor", "polymer") for p, _ in pins)
        ends += 3 * sum(q.role == "GND" or q.name.upper() in ("GND", "PGND", "AGND", "VSS") for _, q in pins)
        if any(q.role in ("SW", "VIN", "OUT") for _, q in pins) or net.rail:
            continue
        if ends > most:
            best, most = net.name, ends
    if most < 3:
        return "", ""
    held = sum(p.kind in ("capacitor", "polymer") for p, _ in board.pins_on[best])
    return best, f"{held} of {caps} capacitors have an end on it"


def described(names: Mapping[str, str], net: str | None) -> str:
    """A net in words; a pad on none is on its own."""
    return "no net yet" if net is None else names.get(net, net)
