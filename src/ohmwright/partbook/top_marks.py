"""Top marks of small bodies: many makers share them, so a mark gives a list and never one certain part.

The table is from memory of makers' data books, each line to be checked against the maker's own; it is a help
to remember, not a source. The user's own part book and installed libraries stand beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ohmwright.partbook.kinds import RawPin
from ohmwright.partbook.transistors import transistor_of

DRIFT = 0.06
"""Spread of a junction's drop between parts, meters and temperatures. [V] common practice, no source"""
MISS = 0.02
"""Chance that a reading is wrong altogether: a slipped probe, flux, a neighbour in circuit. [1] estimate"""


@dataclass(frozen=True, slots=True)
class Marked:
    """A part that carries a mark.

    Parameters
    ----------
    pins : tuple of str
        Names of its pins in order of their numbers.
    junctions : tuple of (str, str, float)
        Anode pin, cathode pin, and drop at about 1 mA. [V]
    weight : float
        How likely it is among those that share the mark, before and after readings. [1]
    """

    mark: str
    name: str
    words: str
    package: str
    pins: tuple[str, ...]
    junctions: tuple[tuple[str, str, float], ...] = ()
    weight: float = 1.0
    source: str = "from memory, makers differ"


@dataclass(frozen=True, slots=True)
class PinReading:
    """Diode mode between two pins of a part by itself: volts, or None for OL. [V]"""

    red: str
    black: str
    volts: float | None


_NPN = (("1", "2", 0.65), ("1", "3", 0.65))
_PNP = (("2", "1", 0.65), ("3", "1", 0.65))
_FET_N = (("2", "3", 0.5),)
_FET_P = (("3", "2", 0.5),)
_BEC, _GSD = ("B", "E", "C"), ("G", "S", "D")


def _of(
    mark: str, name: str, words: str, package: str, pins: tuple[str, ...], junctions: tuple[tuple[str, str, float], ...]
) -> Marked:
    return Marked(mark, name, words, package, pins, junctions)


_23 = "SOT-23"
TABLE: tuple[Marked, ...] = (
    _of("1A", "BC846A", "NPN", _23, _BEC, _NPN), _of("1A", "MMBT3904", "NPN", _23, _BEC, _NPN),
    _of("1AM", "MMBT3904", "NPN", _23, _BEC, _NPN), _of("1B", "BC846B", "NPN", _23, _BEC, _NPN),
    _of("1B", "MMBT2222", "NPN", _23, _BEC, _NPN), _of("1P", "MMBT2222A", "NPN", _23, _BEC, _NPN),
    _of("1G", "BC847C", "NPN", _23, _BEC, _NPN), _of("1F", "BC847B", "NPN", _23, _BEC, _NPN),
    _of("2A", "MMBT3906", "PNP", _23, _BEC, _PNP), _of("2F", "MMBT2907A", "PNP", _23, _BEC, _PNP),
    _of("3A", "BC856A", "PNP", _23, _BEC, _PNP), _of("3B", "BC856B", "PNP", _23, _BEC, _PNP),
    _of("3F", "BC857B", "PNP", _23, _BEC, _PNP), _of("3G", "BC857C", "PNP", _23, _BEC, _PNP),
    _of("6B", "BC817-25", "NPN", _23, _BEC, _NPN), _of("6C", "BC817-40", "NPN", _23, _BEC, _NPN),
    _of("5B", "BC807-25", "PNP", _23, _BEC, _PNP), _of("5C", "BC807-40", "PNP", _23, _BEC, _PNP),
    _of("J3Y", "S8050", "NPN", _23, _BEC, _NPN), _of("2TY", "S8550", "PNP", _23, _BEC, _PNP),
    _of("J6", "S9014", "NPN", _23, _BEC, _NPN), _of("M6", "S9015", "PNP", _23, _BEC, _PNP),
    _of("J6", "BAS21? or another diode of some makers", "diode", _23, ("A", "NC", "K"), (("1", "3", 0.6),)),
    _of("702", "2N7002", "N-channel FET, 60 V", _23, _GSD, _FET_N), _of("7002", "2N7002", "N-channel FET, 60 V", _23,
    _GSD, _FET_N),
    _of("SS", "BSS138", "N-channel FET, 50 V", _23, _GSD, _FET_N), _of("J1", "BSS138", "N-channel FET, 50 V", _23,
    _GSD, _FET_N),
    _of("A1SHB", "SI2301", "P-channel FET, 20 V", _23, _GSD, _FET_P), _of("A2SHB", "SI2302", "N-channel FET, 20 V",
    _23, _GSD, _FET_N),
    _of("A1", "BAW56", "two diodes, anodes joined", _23, ("K1", "K2", "A"), (("3", "1", 0.6), ("3", "2", 0.6))),
    _of("A1", "SI2301", "P-channel FET, 20 V", _23, _GSD, _FET_P),
    _of("A4", "BAV70", "two diodes, cathodes joined", _23, ("A1", "A2", "K"), (("1", "3", 0.6), ("2", "3", 0.6))),
    _of("A6", "BAS16", "diode", _23, ("A", "NC", "K"), (("1", "3", 0.6),)),
    _of("A7", "BAV99", "two diodes in series", _23, ("A", "K", "AK"), (("1", "3", 0.6), ("3", "2", 0.6))),
    _of("L4", "BAT54", "Schottky diode", _23, ("A", "NC", "K"), (("1", "3", 0.24),)),
    _of("L42", "BAT54A", "two Schottky diodes, anodes joined", _23, ("K1", "K2", "A"), (("3", "1", 0.24), ("3", "2",
    0.24))),
    _of("L43", "BAT54C", "two Schottky diodes, cathodes joined", _23, ("A1", "A2", "K"), (("1", "3", 0.24), ("2", "3",
    0.24))),
    _of("L44", "BAT54S", "two Schottky diodes in series", _23, ("A", "K", "AK"), (("1", "3", 0.24), ("3", "2", 0.24))),
    _of("662K", "XC6206P332", "linear regulator, 3.3 V", _23, ("GND", "OUT", "IN"), (("1", "2", 0.6), ("1", "3", 0.6),
    ("2", "3", 0.6))),
    _of("431", "TL431", "shunt reference", _23, ("REF", "K", "A"), (("3", "2", 0.65),)),
    _of("431", "TL431 of makers with the other order", "shunt reference", _23, ("K", "REF", "A"), (("3", "1", 0.65),)),
)  # fmt: skip


def parts_marked(
    mark: str,
    *,
    package: str = "",
    n_pins: int | None = None,
    readings: Sequence[PinReading] = (),
    own: Sequence[Marked] = (),
) -> tuple[Marked, ...]:
    """The parts that may carry a mark, with weights that leave room for those not in any list.

    Parameters
    ----------
    mark : str
        As read; a letter more at either end is let pass, because makers put works and dates there.
    package : str
        Name of the body; parts of another body fall out.
    readings : sequence of PinReading
        Of the part by itself.
    own : sequence of Marked
        The user's own entries.

    Returns
    -------
    tuple of Marked
        Likeliest first. The weights sum to less than one; the rest is "none of these".
    """
    asked = mark.strip().upper()
    found = []
    for entry in (*own, *TABLE):
        fit = _fit(asked, entry.mark.upper())
        if not fit or (package and _body(package) != _body(entry.package)) or (n_pins and n_pins != len(entry.pins)):
            continue
        chance = math.prod(_likelihood(entry, reading) for reading in readings)
        found.append(replace(entry, weight=fit * chance))
    nothing = 0.3 * math.prod(_UNKNOWN for _ in readings)
    total = sum(entry.weight for entry in found) + nothing
    return tuple(replace(e, weight=round(e.weight / total, 4)) for e in sorted(found, key=lambda e: -e.weight))


_UNKNOWN = 0.35
"""Likelihood of any reading for a part that is in no list. [1] estimate"""


def _fit(asked: str, mark: str) -> float:
    if asked == mark:
        return 1.0
    if len(mark) >= 2 and len(asked) <= len(mark) + 2 and (asked.startswith(mark) or asked.endswith(mark)):
        return 0.4
    return 0.0


def _body(package: str) -> str:
    return "".join(m for m in package.upper() if m.isalnum()).removesuffix("3") or package


def _likelihood(entry: Marked, reading: PinReading) -> float:
    """How likely a reading between two pins is if it is that part and the part is sound."""
    drop = _drop(entry, reading.red, reading.black)
    if drop is None or reading.volts is None:
        return 1.0 - MISS if drop is None and reading.volts is None else MISS
    return MISS + (1.0 - MISS) * math.exp(-0.5 * ((reading.volts - drop) / DRIFT) ** 2)


def _drop(entry: Marked, red: str, black: str) -> float | None:
    """Drop from one pin to another through one junction or two in a row. [V]"""
    own = {(a, k): volts for a, k, volts in entry.junctions}
    if (red, black) in own:
        return own[red, black]
    chains = [own[red, mid] + own[mid, black] for mid in ("1", "2", "3") if (red, mid) in own and (mid, black) in own]
    return min(chains, default=None)


def kind_of_marked(entry: Marked) -> str:
    """The kind of part in the engine's words, as its part number tells."""
    pins = tuple(RawPin(str(k), None, name) for k, name in enumerate(entry.pins, 1))
    return transistor_of(entry.name, entry.package, pins).kind
