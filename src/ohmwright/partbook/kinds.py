"""What kind of part stands behind a reference, a value and a footprint, and what its pins do.

Rules of habit (common practice, no source), each answer with its reason. Where nothing is sure the answer
is an integrated circuit of unknown load, or two pads of unknown kind.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ohmwright.circuit import Spread
from ohmwright.errors import ReadingError
from ohmwright.partbook.guess import Guess, RawPin
from ohmwright.partbook.transistors import transistor_of
from ohmwright.quantities import parse_quantity

__all__ = ["NOT_FITTED", "Guess", "RawPin", "kind_of"]


LONGEST = 200
"""Characters of a value that are looked at. [1]"""
SIZES = frozenset(
    ["01005", "0201", "0402", "0603", "0805", "1008", "1206", "1210", "1812", "2010", "2220", "2512", "1608", "2012"]
)
"""Sizes of chip parts (EIA and metric): never values."""
NOT_FITTED = re.compile(r"(?:DN[PFI]|N[AFP]|NC|NO[ _]?(?:POP|FIT|STUFF)|NOT[ _]FITTED|UNFITTED)(?![A-Z0-9])")
"""What a value begins with where the part is left off the board."""
PREFIX = re.compile(r"^([A-Za-z_]+)")
SIMPLE = {
    "C": "capacitor", "CE": "polymer", "R": "resistor", "RM": "resistor", "RN": "resistor", "RA": "resistor",
    "L": "coil", "FB": "ferrite", "F": "fuse", "FU": "fuse", "PTC": "fuse", "Y": "crystal", "X": "crystal",
    "XTAL": "crystal", "J": "connector", "P": "connector", "CON": "connector", "CN": "connector",
    "USB": "connector", "BUS": "connector", "K": "connector", "SW": "connector", "S": "connector",
    "BT": "connector", "BAT": "connector", "PWR": "connector", "EXT": "connector", "UEXT": "connector",
    "JP": "link", "NT": "link", "W": "link", "SJ": "link",
    "LED": "led", "H": "mechanical", "MH": "mechanical", "FID": "mechanical", "TP": "mechanical", "G": "mechanical",
    "LOGO": "mechanical", "M": "mechanical", "MK": "mechanical",
}  # fmt: skip
"""Kinds by reference letters (IEEE 315 and habit)."""
CLOSED = re.compile(r"bridged|closed|soldered|net_?tie|(?<!un)shorted", re.I)
"""Words of a jumper that joins its two sides."""
POLYMER = re.compile(r"tant|poly|elec|CP_|aluminium|/CP|A_Elec|radial", re.I)
SCHOTTKY = re.compile(r"schott|1N58|BAT[45]|SS\d{2}|MBR|PMEG|SK\d{2}|B[35]\d0A?", re.I)
ZAP = re.compile(r"TVS|SM[ABCF]J|PESD|ESD|P6KE|SMAJ|1\.5KE", re.I)
TWO_WAY = re.compile(r"SM[ABCF]J[\d.]+CA|P6KE[\d.]+CA|bidir", re.I)
BEAD = re.compile(r"ferrite|bead|BLM|@\s*100\s*M|FB\d|FB0", re.I)
LINEAR = re.compile(
    r"LDO|78[LM]?\d\d|AMS1117|1117|LM317|AP2112|MIC5|TLV7|XC62|RT9013|ME6211|LD1117|MCP17|NCP11|TPS7|LP29|LP38|RT90",
    re.I,
)
BUCK_NAMES = {"SW", "LX", "PH", "PHASE", "SWITCH"}
ROLE = {
    "VIN": "VIN", "PVIN": "VIN", "VI": "VIN", "IN": "VIN", "VCC": "VDD", "VDD": "VDD", "SW": "SW", "LX": "SW",
    "PH": "SW",
    "GND": "GND", "PGND": "GND", "AGND": "GND", "VSS": "GND", "EP": "GND", "EPAD": "GND", "PAD": "GND",
    "THERMAL": "GND",
    "EN": "EN", "FB": "FB", "VFB": "FB", "BST": "BOOT", "BOOT": "BOOT", "CB": "BOOT", "VO": "OUT", "VOUT": "OUT",
    "OUT": "OUT",
}  # fmt: skip


ZERO = re.compile(r"0+(?:\.0+)?\s*(?:R|Ω|ohms?)?(?:$|[/ (])|0R0*(?:$|[/ (])", re.I)
"""A value of no ohms."""
BARE = re.compile(r"0+(?:\.0+)?\s*$")
"""The same without a unit: at a capacitor or a diode it is a value that nobody filled in."""


def kind_of(
    reference: str,
    value: str,
    footprint: str,
    pins: Sequence[RawPin],
    ground: str,
    rails: frozenset[str],
    coils: Mapping[str, str],
) -> Guess:
    """The kind of a part.

    Parameters
    ----------
    reference, value, footprint : str
    pins : sequence of RawPin
        One per pad number.
    ground : str
    rails : frozenset of str
        Nets taken for rails.
    coils : mapping of str to str
        Nets that touch one coil and that no capacitor holds (candidates for a switch node), and the coil's far net.
    """
    match = PREFIX.match(reference)
    prefix = match[1].upper().rstrip("_") if match else ""
    text = f"{value} {footprint}"
    nets = {pin.net for pin in pins if pin.net}
    if len(nets) < 1 or prefix in ("H", "MH", "FID", "LOGO"):
        return Guess("mechanical", _blank(pins), why="no pin on a net, or a mechanical reference")
    two = len(pins) == 2
    if NOT_FITTED.match(value.strip().upper()):
        return Guess("mechanical", _blank(pins), why=f"not fitted: its value says {value.strip()[:20]!r}")
    if two and ZERO.match(value.strip()) and not (BARE.match(value.strip()) and prefix.startswith(("C", "D"))):
        return Guess("link", _blank(pins), why=f"value {value.strip()[:20]!r} is no resistance")
    if prefix in ("D", "Z", "ZD", "CR", "TVS", "VD", "LED", "ESD", "DZ") or (two and re.match(r"LED\b", value)):
        if any(pin.type == "power_in" for pin in pins):
            return _integrated(text, pins, ground, rails, coils)
        return _diode(prefix, text, pins, ground)
    if prefix in ("Q", "T", "M", "VT", "FET", "TR") and len(pins) >= 3:
        return transistor_of(value, footprint, pins)
    guess = _simple(SIMPLE.get(prefix, ""), value, text, pins)
    if guess is not None:
        return guess
    if two:
        return Guess("unknown-two-pads", ("", ""), why=f"two pads, and {prefix or 'no letters'} says nothing")
    return _integrated(text, pins, ground, rails, coils)


def _simple(kind: str, value: str, text: str, pins: Sequence[RawPin]) -> Guess | None:
    """A part whose reference says enough."""
    two = len(pins) == 2
    if kind == "link" and not CLOSED.search(text):
        # An open solder jumper taken for a link would join two nets that are not joined.
        return Guess("connector", _blank(pins), why="a jumper drawn as open, or nobody says which")
    if kind in ("capacitor", "polymer") and two:
        kind = "polymer" if kind == "polymer" or POLYMER.search(text) else "capacitor"
        return Guess(kind, ("", ""), _amount(value, farads=True), _rated(value), "reference and value")
    if kind == "resistor" and len(pins) % 2 == 0:
        return _resistor(value, pins)
    if kind in ("coil", "ferrite") and two:
        ohms = re.match(r"\d+(?:\.\d+)?\s*(?:R|Ω|ohms?|k)(?![A-Za-z])", value.strip(), re.I)
        bead = kind == "ferrite" or bool(BEAD.search(text) or ohms)
        return Guess("ferrite" if bead else "coil", ("", ""), None, None, "reference and value")
    if kind in ("fuse", "link") and two:
        return Guess(kind, ("", ""), None, None, "reference")
    if kind == "crystal" and 2 <= len(pins) <= 4:
        return Guess("crystal", _blank(pins), why="reference")
    if kind in ("connector", "mechanical"):
        return Guess(kind, _blank(pins), why="reference")
    return None


def _blank(pins: Sequence[RawPin]) -> tuple[str, ...]:
    return ("",) * len(pins)


def _amount(value: str, *, farads: bool = False) -> Spread | None:
    """The first quantity in a value text: ``100n/50V`` or ``4.7k 1%``; None where none can be read.

    A bare number of farads is none: it could be picofarads or microfarads. Size codes are no values.
    """
    text = re.sub(r"(?<=\d),(?=\d)", ".", value.strip()[:LONGEST])
    text = re.sub(r"(?<=\d)\s+(?=[pnuµμmkM]?(?:F|H|Ω|ohms?|R)?(?:$|[\s/;(]))", "", text)
    for word in re.split(r"[\s/;(]+", text):
        word = word.split("@")[0]
        if re.fullmatch(r"[RCL]?\d{4}|01005", word) and word.lstrip("RCL") in SIZES:
            continue
        if farads:
            word = re.sub(r"[NPU]", lambda found: found[0].lower(), word)
        try:
            amount = abs(parse_quantity(word))
        except ReadingError:
            continue
        if farads and not re.search(r"[pnuµμm]", word):
            continue
        return Spread(amount, _tolerance(value), f"value {value.strip()[:60]!r}")
    return None


def _tolerance(value: str) -> float:
    match = re.search(r"(\d+(?:\.\d+)?)\s*%", value)
    return max(0.003, float(match[1]) / 200.0) if match else 0.025


def _rated(value: str) -> float | None:
    """Volts written beside the value: ``10u/6.3V``, ``10u 6V3``. [V]"""
    pointed = re.search(r"(?<![\d.])(\d{1,2})V(\d)(?!\d)", value, re.I)
    if pointed:
        return float(f"{pointed[1]}.{pointed[2]}")
    match = re.search(r"(?<![\d.])(\d+(?:\.\d+)?)\s*V(?:DC)?\b", value, re.I)
    return float(match[1]) if match and 1.0 <= float(match[1]) <= 1000.0 else None


def _resistor(value: str, pins: Sequence[RawPin]) -> Guess:
    amount = _amount(value)
    if amount is not None and amount.median == 0.0:
        return Guess("link", _blank(pins), why="0 Ω") if len(pins) == 2 else Guess("resistor", _blank(pins), amount)
    sense = amount is not None and amount.median <= 0.1 and len(pins) == 2
    return Guess("sense" if sense else "resistor", _blank(pins), amount, None, "reference and value")


def _diode(prefix: str, text: str, pins: Sequence[RawPin], ground: str) -> Guess:
    if len(pins) > 2:
        roles = tuple("GND" if pin.net == ground else "line" for pin in pins)
        if "GND" in roles and "line" in roles:
            return Guess("esd", roles, why="a diode of several legs, one on ground")
        return Guess("ic", tuple("IO" for _ in pins), why="a diode of several legs")
    if len(pins) < 2:
        return Guess("mechanical", _blank(pins), why="one leg")
    if TWO_WAY.search(text):
        return Guess("tvs-two-way", ("", ""), why="marked as two-way")
    roles = tuple(_end(pin, position) for position, pin in enumerate(pins))
    if set(roles) != {"anode", "cathode"}:
        roles = ("cathode", "anode")
    kind = "led" if prefix == "LED" or re.search(r"\bLED", text, re.I) else "tvs" if ZAP.search(text) else "diode"
    if kind == "diode" and SCHOTTKY.search(text):
        kind = "schottky"
    return Guess(kind, roles, why="reference; pad 1 is the cathode where names do not say (IPC-7351)")


def _end(pin: RawPin, position: int) -> str:
    name = pin.name.upper() or pin.number.upper()
    if name in ("A", "ANODE", "2") or (name.startswith("A") and len(name) <= 2):
        return "anode"
    if name in ("K", "C", "CATHODE", "1") or (name.startswith("K") and len(name) <= 2):
        return "cathode"
    return "cathode" if position == 0 else "anode"


def _integrated(
    text: str, pins: Sequence[RawPin], ground: str, rails: frozenset[str], coils: Mapping[str, str]
) -> Guess:
    words = [re.split(r"[/_\d~{(]", pin.name.upper())[0] for pin in pins]
    # A pin called OUT that goes to a coil and to nothing that holds it is a switch, as on the oldest bucks.
    loose = ("VO", "VOUT", "OUT", *([""] if not any(words) else []))
    switch = [w in BUCK_NAMES or (w in loose and p.net in coils) for w, p in zip(words, pins, strict=True)]
    has_ground = any(pin.net == ground for pin in pins)
    feed = any(w in ("VIN", "PVIN", "VI", "IN") for w in words) or any(pin.net in rails for pin in pins)
    if any(switch) and has_ground and feed and len(pins) <= 24:
        roles = tuple(_buck_role(w, pin, s, ground, rails) for w, pin, s in zip(words, pins, switch, strict=True))
        behind = {coils.get(pin.net or "") for pin, role in zip(pins, roles, strict=True) if role == "SW"}
        feeds = {pin.net for pin, role in zip(pins, roles, strict=True) if role == "VIN"}
        if feeds & behind and feeds - behind:
            # What is behind the coil and on a nameless pin is the output, watched by the regulator.
            roles = tuple("FB" if r == "VIN" and p.net in behind else r for r, p in zip(roles, pins, strict=True))
        elif feeds & behind:
            return Guess("ic", _any_roles(pins, ground, rails), why="a step-up: its coil comes from its input")
        if {"VIN", "SW", "GND"} <= set(roles):
            return Guess("buck", roles, why="a pin at a coil, one on ground, one on a rail")
    on_rails = [pin for pin in pins if pin.net in rails]
    named = {"VO", "VOUT", "OUT"} & set(words) and {"VI", "VIN", "IN"} & set(words)
    if has_ground and (named or LINEAR.search(text)) and len(pins) <= 8 and len({p.net for p in on_rails}) >= 1:
        roles = _linear_roles(words, pins, ground, rails)
        if {"IN", "OUT", "GND"} <= set(roles):
            return Guess("linear", roles, why="value or pin names of a linear regulator")
    roles = _any_roles(pins, ground, rails)
    return Guess("ic", roles, why="nothing says what it is: every pin on a rail is an unknown load")


def _any_roles(pins: Sequence[RawPin], ground: str, rails: frozenset[str]) -> tuple[str, ...]:
    return tuple("GND" if pin.net == ground else "VDD" if pin.net in rails else "IO" for pin in pins)


def _buck_role(word: str, pin: RawPin, switch: bool, ground: str, rails: frozenset[str]) -> str:
    if pin.net == ground:
        return "GND"
    if switch:
        return "SW"
    role = ROLE.get(word, "")
    if role in ("EN", "FB", "BOOT"):
        return role
    if role == "VIN" or (not word and pin.net in rails):
        return "VIN"
    return "VCC" if role == "VDD" else "IO"


def _linear_roles(words: Sequence[str], pins: Sequence[RawPin], ground: str, rails: frozenset[str]) -> tuple[str, ...]:
    roles = []
    for word, pin in zip(words, pins, strict=True):
        if pin.net == ground:
            roles.append("GND")
        elif word in ("VO", "VOUT", "OUT"):
            roles.append("OUT")
        elif word in ("VI", "VIN", "IN"):
            roles.append("IN")
        elif word in ("EN", "FB", "ADJ"):
            roles.append("EN" if word == "EN" else "FB")
        else:
            roles.append("IO")
    return tuple(roles)
