"""The words of pin tables: what looks like a pin's number, a pin's name, a type, or nothing at all."""

from __future__ import annotations

import re

UNDER = r"(?:e-?p(?:ad)?|(?:thermal|exposed|power|die|heat)[ -]?(?:tab|pad|slug)|paddle|pad|tab|slug)"
_BALL = r"(?:[A-HJ-NPR-WY]|A[A-HJ-NPR-WY])\d{1,2}"
"""JEDEC rows leave out I, O, Q, S, X and Z; S is taken all the same, because some makers do."""
_ONE = rf"(?:\d{{1,3}}|{_BALL}|(?i:{UNDER})(?:\s?\(?\d{{1,3}}\)?)?)"
_RANGE = rf"(?:\d{{1,3}}\s?(?:-|to|through|\.\.)\s?\d{{1,3}}|{_ONE})"
_LIST = re.compile(rf"\(?(?:Pins?\s)?({_RANGE}(?:\s?(?:,|;|&|\band\b)\s?(?:and\s)?{_RANGE})*)\)?(?=[\s:,.]|$)")
DASH = re.compile(r"(?:-{1,3}|N/?A|n/?a|x|\.{3})(?=\s|$)")
"""What a table has where a package lacks the pin. Long dashes are short ones by then."""
TYPES = frozenset(
    (
        "I", "O", "I/O", "IO", "P", "PWR", "POWER", "G", "GND", "S", "SUP", "A", "AI", "AO", "AIO", "AI/O", "D", "DI",
        "DO", "DIO", "DI/O", "OD", "OC", "I/OD", "O/D", "PU", "PD", "PI", "PO", "I-PU", "I-PD", "NC", "IN", "OUT",
        "In", "Out", "Pwr", "Gnd", "IPU", "IPD", "ANA", "DIG", "P/I", "P/O", "G/P", "S/G", "A/D", "I/P", "O/P", "B",
    )
)  # fmt: skip
TYPE_WORDS = frozenset(
    ("power", "ground", "input", "output", "analog", "digital", "supply", "bidirectional", "open drain", "open-drain",
     "analog input", "analog output", "digital input", "digital output", "digital i/o", "analog i/o", "analog power",
     "digital power", "power input", "power output", "power supply", "no connect", "passive", "input/output",
     "in", "out", "i/o", "reference")
)  # fmt: skip
_UNITS = frozenset(
    (
        "A", "V", "W", "F", "H", "s", "m", "mA", "uA", "µA", "μA", "nA", "mV", "kV", "uF", "µF", "μF", "nF", "pF",
        "uH", "µH", "μH", "nH", "Ω", "kΩ", "MΩ", "Hz", "kHz", "MHz", "GHz", "mm", "ms", "us", "°C", "%", "x",
    )
)  # fmt: skip
_NAMES_AS_WORDS = frozenset(
    ("ground", "input", "output", "enable", "gate", "source", "drain", "anode", "cathode", "base", "emitter",
     "collector", "reset", "clock", "data", "supply", "shield", "switch", "feedback", "sense", "vin", "vout", "vcc",
     "vdd", "vss", "gnd", "thermal pad", "exposed pad", "power pad", "power ground", "no connect", "nc", "boot")
)  # fmt: skip
_NAME = re.compile(
    r"[~/!*n¯]?[A-Za-z0-9_][A-Za-z0-9_+\-#/~.\[\]<>:*'&]{0,30}(?:\([A-Za-z0-9_+\-/#]{1,16}\))?[+\-#*]?\Z"
)
_FOOTNOTE = re.compile(r"(?:\((?:\d|[a-z])\)|\[\d\]|\*+|†|‡)+$")


def pin_list(text: str) -> str | None:
    """The list of pins that a text begins with, as written, or None."""
    found = _LIST.match(text)
    if found is None:
        return None
    return found[0]


def split_pins(listed: str) -> tuple[str, ...]:
    """The pins of a list, ranges written out, the pad under the body as ``EP``.

    >>> split_pins("1-3, 7 and Exposed Pad")
    ('1', '2', '3', '7', 'EP')
    """
    bare = re.sub(r"^\(?(?:Pins?\s)?|\)$", "", listed.strip())
    out: list[str] = []
    for item in re.split(r"\s*(?:,|;|&|\band\b)\s*", bare):
        ends = re.fullmatch(r"(\d{1,3})\s?(?:-|to|through|\.\.)\s?(\d{1,3})", item)
        if ends and 0 <= int(ends[2]) - int(ends[1]) <= 200:
            out += [str(n) for n in range(int(ends[1]), int(ends[2]) + 1)]
        elif re.match(rf"(?i:{UNDER})", item):
            out.append("EP")
        elif item:
            out.append(item.lstrip("0") or item)
    return tuple(dict.fromkeys(out))


def is_name(text: str) -> bool:
    """Whether a text can be what a datasheet calls a pin."""
    bare = _FOOTNOTE.sub("", text.strip())
    if bare.lower() in _NAMES_AS_WORDS:
        return True
    words = bare.split()
    if len(words) > 1:
        return len(words) <= 3 and all(_single(word) and word.upper() == word for word in words)
    return _single(bare)


def _single(word: str) -> bool:
    if not _NAME.match(word) or word in _UNITS - {"A", "V"} or word.isdigit():
        return False
    if re.fullmatch(r"\d+(?:\.\d+)?[-+]?|\d+\.\d+[A-Za-z]*", word):
        return False
    capitals = sum(c.isupper() for c in word)
    # Vin and nCS are names; Connect and the are not.
    return capitals >= 2 or (capitals == 1 and (len(word) <= 4 or any(c.isdigit() or c in "_+-#/" for c in word)))


def is_odd_name(name: str, words: str) -> bool:
    """Whether a name may as well be a unit or the first word of a sentence."""
    sentence = name.istitle() and len(name) > 2 and name.lower() not in _NAMES_AS_WORDS and not words[:1].isupper()
    return name in _UNITS or sentence


def short_name(text: str) -> str:
    """A name without footnotes and without spaces about a slash."""
    bare = _FOOTNOTE.sub("", text.strip()).strip()
    if re.fullmatch(rf"(?i:{UNDER})", bare):
        return "EP"
    return re.sub(r"\s*/\s*", "/", bare)
