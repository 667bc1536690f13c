"""What a pin does, where a description says it in other words or leaves it out."""

from __future__ import annotations

from collections.abc import Mapping

from ohmwright.devices import KINDS
from ohmwright.errors import UnknownNameError

SAME: Mapping[str, str] = {
    "A": "anode", "K": "cathode", "C": "cathode", "G": "gate", "S": "source", "D": "drain",
    "PGND": "GND", "AGND": "GND", "DGND": "GND", "VSS": "GND", "EP": "GND", "GROUND": "GND",
    "VINP": "VIN", "PVIN": "VIN", "LX": "SW", "PHASE": "SW", "VDD": "VCC", "VCC": "VDD", "BST": "BOOT",
    "VOUT": "OUT", "VI": "IN", "VO": "OUT", "ENABLE": "EN", "VFB": "FB", "I/O": "IO", "VBAT": "BAT", "VSYS": "SYS",
}  # fmt: skip
"""Datasheet names, in capitals, and the role each stands for where a kind has such a role."""
TWO_ENDED = frozenset({"diode", "schottky", "led", "tvs"})
ICS = frozenset({"ic", "buck", "boost", "buck-boost", "linear", "load-switch", "charger", "esd"})


def role_for(
    kind: str,
    number: str,
    told: str | None,
    name: str,
    net: str | None,
    ground: str,
    rails: set[str],
    *,
    where: str,
    first: bool,
    two: bool,
) -> tuple[str, str]:
    """Role and name of a pin.

    A role told in a datasheet's words is put into ours. One not told is taken from the pin's name or
    number; else pin 1 of a two-ended diode is the cathode (IPC-7351), a pin on ground is GND, an IC's pin
    on a rail VDD.

    Raises
    ------
    UnknownNameError
        If a told role is none of the kind's, and the kind has no pins of free use.
    """
    roles = KINDS[kind].roles
    if not roles:
        return told or "", name
    if told:
        known = _role(told, roles)
        if known:
            return known, name
        if "IO" not in roles:
            raise UnknownNameError.among(f"role at a part of the kind {kind!r}:", told, roles, where=where)
        return "IO", name or told
    if told == "":
        return "", name
    guess = _role(name, roles) or _role(number, roles)
    if guess:
        return guess, name
    return _by_place(kind, net, ground, rails, first=first, two=two), name


def _role(word: str, roles: tuple[str, ...]) -> str:
    by_capitals = {role.upper(): role for role in roles}
    capitals = word.strip().upper()
    other = SAME.get(capitals, "")
    return by_capitals.get(capitals) or by_capitals.get(other.upper(), "")


def _by_place(kind: str, net: str | None, ground: str, rails: set[str], *, first: bool, two: bool) -> str:
    if kind in TWO_ENDED and two:
        return "cathode" if first else "anode"
    if kind in ICS and net == ground:
        return "GND"
    if kind == "esd":
        return "line"
    if kind == "ic":
        return "VDD" if net in rails else "IO"
    return ""
