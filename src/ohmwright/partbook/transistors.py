"""Single transistors: what type they are, and which of the legs is which.

N taken for P turns a body diode around, so a type that nobody tells makes an unknown part, never a guess.
Part numbers are from memory; a test holds them against the descriptions in KiCad's symbol libraries.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ohmwright.partbook.guess import Guess, RawPin

_FET_N = re.compile(
    r"2N700[02]|BSS(?:138|123|127|214)|AO3(?:400|402|404|406|416|422)|SI230[0246]|SI231[28]|IRLML(?:0\d{3}|2\d{3}|62\d\d|63\d\d)|"
    r"DMN|DMG(?:2302|3402|3414)|FDN33[579]|FDV30[13]|NX\d{4}|BUK\d|IRF(?:[5-8][1-4]0(?!\d)|6[678]\d\d|Z|3205|[1-3]\d{3})|IRL(?:Z|B|[23]\d{3}|540)|"
    r"PMV(?:16|20|30|37|45)|CSD1[5-9]|FQP\d+N|BS1(?:70|08|07)|NDS(?:355AN|331N|351)|PSMN|[BI][SP][CBPDAT]\d+N|BS[BFZ]\d+N|"
    r"ST[PBDF]\d+N|BUZ|.*N-?(?:MOS|CHAN)",
    re.I,
)
_FET_P = re.compile(
    r"BSS(?:84|83P|110|223|215P)|AO3(?:401|403|407|409|413|415|419)|SI23(?:01|03|05|07|19|23|33|71)|IRLML(?:5\d{3}|6401|6402|93\d\d|2244)|"
    r"DMP|DMG(?:2301|2305|3415)|FDN30[246]|FDN33[468]|FDN340P|FDN35[28]|NDS(?:33[24]|35[26]|0610)|NTR(?:1P|4101|0202)|WPM\d|TP0610|"
    r"BS250|IRF(?:9\d{3}|9Z|5305|4905)|FQP\d+P|FDS(?:4435|66[78]5|9435)|PMN48XP|[BI][SP][CBPD]\d+P|CSD25|.*P-?(?:MOS|CHAN)",
    re.I,
)
_NPN = re.compile(
    r"BC(?:10[7-9]|18[2-4]|23[7-9]|33[78]|41[34]|54[6-9]|550|63[579]|81[78]|84[6-9]|850)|"
    r"(?:2N|MMBT|PMBT|PZT|PN)?(?:3904|2222|4401|5551|3055|2219)|SS?8050|S901[34]|MPSA(?:06|42)|MMBTA(?:06|42)|PZTA42|"
    r"BD(?:13[579]|23[357]|24[1359]|43[3579]|44[1]|909|911)|TIP(?:29|31|41|3055)|DT[CD]\d|MUN22|BCX5[4-6]|BCP5[4-6]|2SC|2SD|MJE1300|.*NPN",
    re.I,
)
_PNP = re.compile(
    r"BC(?:17[7-9]|30[7-9]|32[78]|41[56]|55[6-9]|560|63[68]|640|80[78]|85[6-9]|860)|"
    r"(?:2N|MMBT|PMBT|PZT|PN)?(?:3906|2907|4403|5401|2905)|SS?8550|S901[25]|MPSA(?:56|92)|MMBTA(?:56|92)|PZTA92|"
    r"BD(?:13[68]|140|23[468]|24[246]|250|43[468]|44[02]|910|912)|TIP(?:30(?!55)|32|42|2955)|DT[AB]\d|MUN21|BCX5[1-3]|BCP5[1-3]|2S[AB]|MJ2955|.*PNP",
    re.I,
)
_SOT23 = re.compile(r"SOT-?_?(?:23|323|346|523)(?![-_]?[568])|SC-?(?:59|70)(?![-_]?[568])|TO-236", re.I)
"""Bodies in which makers agree on the order of the three legs (common practice, no source)."""
_FET_LEGS = {"G": "gate", "S": "source", "D": "drain"}
_TYPES = (("fet-p", _FET_P), ("fet-n", _FET_N), ("pnp", _PNP), ("npn", _NPN))


def type_of(value: str) -> str:
    """``fet-n``, ``fet-p``, ``npn`` or ``pnp`` by the part number, or an empty text."""
    return next((name for name, numbers in _TYPES if numbers.match(value.strip())), "")


def transistor_of(value: str, footprint: str, pins: Sequence[RawPin]) -> Guess:
    """A transistor with the roles of its legs, or an unknown part with the reason."""
    found = type_of(value)
    names = [_leg(pin) for pin in pins]
    if not any(names) and len(pins) == 3 and _SOT23.search(footprint) and {p.number for p in pins} == {"1", "2", "3"}:
        order = dict(zip("123", "GSD" if found.startswith("fet") else "BEC", strict=True))
        names = [order[pin.number] for pin in pins]
    if names.count("G") > 1 or names.count("B") > 1 or len(pins) > 9:
        return _unknown(pins, "several transistors in one body")
    if found.startswith("fet") and {"G", "S", "D"} <= set(names):
        return Guess(found, tuple(_FET_LEGS.get(name, "") for name in names), why=f"part number {value.strip()[:30]!r}")
    if found in ("npn", "pnp") and {"B", "C", "E"} <= set(names):
        base, other = ("anode", "cathode") if found == "npn" else ("cathode", "anode")
        roles = tuple(base if name == "B" else other if name in ("C", "E") else "" for name in names)
        return Guess("diode", roles, why=f"{found.upper()} transistor, taken as the two junctions of its base")
    told = "which leg is which" if found else "what type it is"
    return _unknown(pins, f"a transistor of which nobody tells {told}")


def _leg(pin: RawPin) -> str:
    for text in (pin.name.strip().upper().rstrip("0123456789"), pin.number.strip().upper()):
        if text in ("G", "S", "D", "B", "E", "C"):
            return text
    return ""


def _unknown(pins: Sequence[RawPin], why: str) -> Guess:
    return Guess("ic", ("",) * len(pins), why=f"{why}: an unknown part")
