"""Where the pads of a package are: land patterns generated from its name and its number of pins.

Numbers follow IPC-7351B at its nominal density as the KiCad footprint library 6.0.11 (CC-BY-SA-4.0 with
exception for designs) draws it; a test compares a handful. Pins run counter-clockwise from pin 1 seen
from the part's own side (JEDEC JEP95). Packages that are not listed are laid out in line or in two rows
inside the size the part's place gives: plausible, with no source, and said so by `LandPattern.sourced`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

from ohmwright.geometry.lands import Land, LandPattern, Pad, PartLike
from ohmwright.geometry.transforms import similarity

__all__ = ["Land", "LandPattern", "Pad", "PartLike", "land_pattern", "pad_centres", "part_pattern"]

# Pad x [mm], width [mm], height [mm], body length [mm], body width [mm]; KiCad 6.0.11 R_* and C_* footprints.
_CHIP: dict[str, tuple[float, float, float, float, float]] = {
    "0201": (0.32, 0.46, 0.40, 0.60, 0.30),
    "0402": (0.51, 0.54, 0.64, 1.00, 0.50),
    "0603": (0.825, 0.80, 0.95, 1.60, 0.80),
    "0805": (0.9125, 1.025, 1.40, 2.00, 1.25),
    "1206": (1.4625, 1.125, 1.75, 3.20, 1.60),
    "1210": (1.4625, 1.125, 2.65, 3.20, 2.50),
    "2010": (2.3125, 1.225, 2.65, 5.00, 2.50),
    "2512": (2.9625, 1.225, 3.35, 6.30, 3.20),
}
_CHIP_C: dict[str, tuple[float, float, float, float, float]] = {
    "0201": (0.32, 0.46, 0.40, 0.60, 0.30),
    "0402": (0.48, 0.56, 0.62, 1.00, 0.50),
    "0603": (0.775, 0.90, 0.95, 1.60, 0.80),
    "0805": (0.95, 1.00, 1.45, 2.00, 1.25),
    "1206": (1.475, 1.15, 1.80, 3.20, 1.60),
    "1210": (1.475, 1.15, 2.70, 3.20, 2.50),
}
# The same for two-terminal diodes (pin 1 is the cathode): KiCad D_SOD-123, D_SOD-323, D_SMA, D_SMB.
_MOULDED: dict[str, tuple[float, float, float, float, float]] = {
    "SOD123": (1.65, 0.90, 1.20, 2.80, 1.60),
    "SOD323": (1.05, 0.60, 0.45, 1.80, 1.25),
    "SMA": (2.0, 2.5, 1.8, 4.3, 2.6),
    "SMB": (2.15, 2.5, 2.3, 4.4, 3.7),
}
# Rows: pad x [mm], pad width [mm], pad height [mm], pitch [mm], body width [mm].
_ROWS: dict[str, tuple[float, float, float, float, float]] = {
    "SOICW": (4.65, 2.05, 0.60, 1.27, 7.5),
    "SOIC": (2.475, 1.95, 0.60, 1.27, 3.9),
    "TSSOP": (2.8625, 1.475, 0.40, 0.65, 4.4),
    "SSOP": (2.8625, 1.475, 0.40, 0.65, 4.4),
    "MSOP": (2.1125, 1.625, 0.40, 0.65, 3.0),
    "MSOP10": (2.2, 1.4, 0.30, 0.50, 3.0),
    "SOT23": (1.1375, 1.325, 0.60, 0.95, 1.6),
    "SOT363": (0.95, 0.65, 0.40, 0.65, 1.25),
    "SOT563": (0.75, 0.70, 0.34, 0.50, 1.2),
}
_BALL_ROWS = "ABCDEFGHJKLMNPRTUVWY"
"""Letters of ball rows: I, O, Q, S, X and Z are left out (IPC-7351 14.2.5)."""


def land_pattern(package: str, pins: Sequence[str], body_mm: tuple[float, float] = (0.0, 0.0)) -> LandPattern:
    """The pads of a package.

    Parameters
    ----------
    package : str
        Name as people write it: ``0402``, ``C0603``, ``SOT-23``, ``SOIC-8``, ``QFN-32``, ``coil 4x4``.
    pins : sequence of str
        The pin numbers the part has; they say how many pads an open-ended family gets.
    body_mm : (float, float)
        Size the place gives, used where the name does not fix one. [mm]
    """
    plain = re.sub(r"[^A-Z0-9.]+", "-", package.upper()).strip("-")
    for pattern, make in _FAMILIES:
        match = re.match(pattern, plain)
        if match:
            return make(match, list(pins), body_mm)
    return _generic(list(pins), body_mm)


def part_pattern(part: PartLike) -> LandPattern:
    """The land pattern of a part: a ceramic capacitor's differs a little from a resistor's of that size."""
    prefix = "C" if part.kind == "capacitor" and re.match(_CASE, part.package) else ""
    size = (part.place.width_mm, part.place.height_mm) if part.place else (0.0, 0.0)
    return land_pattern(prefix + part.package, [p.number for p in part.pins], size)


def pad_centres(part: PartLike) -> tuple[Pad, ...]:
    """The pads of a placed part in the board frame, in the order of its pins.

    A pin whose number the pattern does not know gets no pad (where none is known at all, the pins take the
    pads in order); a part without a place has none. A part on the bottom is its pattern mirrored in x
    and then turned.
    """
    if part.place is None:
        return ()
    place = part.place
    lands = part_pattern(part).lands
    by_number = {land.number: land for land in lands}
    if not any(pin.number in by_number for pin in part.pins):
        by_number = {pin.number: land for pin, land in zip(part.pins, lands, strict=False)}
    to_board = similarity(1.0, place.angle_deg, place.x_mm, place.y_mm, mirrored=place.side == "bottom")
    found = []
    for pin in part.pins:
        land = by_number.get(pin.number)
        if land is not None:
            x, y = to_board.at(land.x_mm, land.y_mm)
            size = (land.width_mm, land.height_mm)
            found.append(Pad(part.name, pin.number, x, y, *size, place.angle_deg, place.side, land.drill_mm))
    return tuple(found)


def _two(pins: list[str], numbers: tuple[float, float, float, float, float], family: str) -> LandPattern:
    x, w, h, length, width = numbers
    names = ([*pins, "1", "2"])[:2] if len(pins) >= 2 else ["1", "2"]
    return LandPattern(family, (length, width), (Land(names[0], -x, 0.0, w, h), Land(names[1], x, 0.0, w, h)))


def _chip(match: re.Match[str], pins: list[str], _body: tuple[float, float]) -> LandPattern:
    sizes = _CHIP_C if match[1] == "C" and match[2] in _CHIP_C else _CHIP
    return _two(pins, sizes[match[2]], "chip")


def _moulded(match: re.Match[str], pins: list[str], _body: tuple[float, float]) -> LandPattern:
    return _two(pins, _MOULDED[match[1].replace("-", "")], "moulded")


def _sot23(_match: re.Match[str], pins: list[str], _body: tuple[float, float]) -> LandPattern:
    if len(pins) > 3:
        return _two_rows("SOT23", 5 if len(pins) == 5 else 6, (1.6, 2.9))
    at = ((-0.9375, -0.95), (-0.9375, 0.95), (0.9375, 0.0))
    lands = tuple(Land(str(i + 1), x, y, 1.475, 0.6) for i, (x, y) in enumerate(at))
    return LandPattern("gull", (1.3, 2.9), lands)


def _sot323(_match: re.Match[str], _pins: list[str], _body: tuple[float, float]) -> LandPattern:
    at = ((-1.0, -0.65), (-1.0, 0.65), (1.0, 0.0))
    return LandPattern("gull", (1.25, 2.0), tuple(Land(str(i + 1), x, y, 0.7, 0.45) for i, (x, y) in enumerate(at)))


def _sot223(_match: re.Match[str], _pins: list[str], _body: tuple[float, float]) -> LandPattern:
    lands = [Land(str(i + 1), -3.15, y, 2.0, 1.5) for i, y in enumerate((-2.3, 0.0, 2.3))]
    return LandPattern("gull", (3.5, 6.5), (*lands, Land("4", 3.15, 0.0, 2.0, 3.8)))


def _tab(_match: re.Match[str], pins: list[str], _body: tuple[float, float]) -> LandPattern:
    tab = "4" if "4" in pins else "2"
    outer = (Land("1", -4.2, -2.28, 2.2, 1.2), Land("3", -4.2, 2.28, 2.2, 1.2))
    return LandPattern("tab", (6.1, 6.6), (*outer, Land(tab, 2.1, 0.0, 6.4, 5.8)))


def _two_rows(key: str, count: int, body: tuple[float, float] | None = None, sourced: bool = True) -> LandPattern:
    x, w, h, pitch, width = _ROWS[key]
    per_side = math.ceil(count / 2)
    half = (per_side - 1) * pitch / 2
    lands = [Land(str(i + 1), -x, -half + i * pitch, w, h) for i in range(per_side)]
    right = [half - i * pitch for i in range(per_side)]
    if count == 5:  # SOT-23-5 and kin: the middle lead on the right is not there
        right = [half, -half]
    lands += [Land(str(per_side + i + 1), x, y, w, h) for i, y in enumerate(right)]
    length = 2 * half + (1.1 if key == "SOIC" else 0.45 if key in ("TSSOP", "SSOP") else 1.0)
    return LandPattern("gull", body or (width, length), tuple(lands), sourced)


def _rows(match: re.Match[str], pins: list[str], _body: tuple[float, float]) -> LandPattern:
    family = match[1].replace("-", "") + ("W" if match[3] and match[1] == "SOIC" else "")  # SOIC-16W is the wide one
    key = {"SO": "SOIC", "SOP": "SOIC", "SC70": "SOT363", "SOT353": "SOT363", "VSSOP": "MSOP"}.get(family, family)
    count = _even(int(match[2]) if match[2] and int(match[2]) < 100 else len(pins), least=5)
    key = "MSOP10" if (key, count) == ("MSOP", 10) else key
    return _two_rows(key, count)


def _even(count: int, least: int = 2) -> int:
    return count if count == 5 and least <= 5 else max(least + least % 2, count + count % 2)


def _quad(match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    leaded = "QFP" in match[1]
    given = int(match[2]) if match[2] else len(pins)
    count = max(8, given - given % 4)
    size = _quad_size(match, count, body, leaded)
    pitch = 0.5 if (count / 4 - 1) * 0.5 < size - 0.7 else 0.4
    if not leaded and count == 16 and size >= 3.9:
        pitch = 0.65
    if leaded and (count / 4 - 1) * 0.8 <= size - 1.2:  # LQFP-32 and -44, and no denser one
        pitch = 0.8
    # KiCad LQFP-48/-64: pad 1.475 (7 mm body) or 1.55 x 0.3 about 0.6625 outside the body; QFN: 0.875 x 0.25.
    far, length = (size / 2 + 0.6625, 1.475) if leaded else _quad_reach(size, count)
    width = 0.5 if pitch == 0.8 else 0.3 if leaded and pitch == 0.5 else 0.25 if pitch >= 0.5 else 0.2
    lands = _quad_lands(count // 4, pitch, far, length, width)
    if not leaded or str(count + 1) in pins:
        exposed = {3: 1.75, 4: 2.6, 5: 3.45, 7: 5.3}.get(round(size), 0.65 * size)
        lands.append(Land(str(count + 1), 0.0, 0.0, exposed, exposed))
    return LandPattern("quad-gull" if leaded else "no-lead", (size, size), tuple(lands))


def _quad_size(match: re.Match[str], count: int, body: tuple[float, float], leaded: bool) -> float:
    """Body edge in mm: as written (``5X5``), as placed, else the usual one for that many pins."""
    if match[3]:
        return float(match[3])
    usual = (
        {32: 7.0, 44: 10.0, 48: 7.0, 64: 10.0, 80: 12.0, 100: 14.0, 144: 20.0}
        if leaded
        else {
            8: 2.0,
            12: 3.0,
            16: 3.0,
            20: 4.0,
            24: 4.0,
            28: 4.0,
            32: 5.0,
            40: 6.0,
            48: 7.0,
            56: 8.0,
            64: 9.0,
        }
    )
    placed = round(max(body) * 2) / 2
    fits = (count / 4 - 1) * 0.4 + 1.0
    return placed if placed >= fits else usual.get(count, max(fits, 3.0))


def _quad_reach(size: float, count: int) -> tuple[float, float]:
    """Distance of the pad's centre and its length in mm: KiCad QFN-16, -24, -32 and -48."""
    known = {(3, 16): (1.4625, 0.775), (4, 24): (1.9375, 0.825), (5, 32): (2.4375, 0.875), (7, 48): (3.45, 0.8)}
    return known.get((round(size), count), (size / 2 - 0.0625, 0.825))


def _quad_lands(per_side: int, pitch: float, far: float, length: float, width: float) -> list[Land]:
    half = (per_side - 1) * pitch / 2
    lands: list[Land] = []
    for side in range(4):
        for i in range(per_side):
            along = -half + i * pitch
            x, y = ((-far, along), (along, far), (far, -along), (-along, -far))[side]
            w, h = (length, width) if side % 2 == 0 else (width, length)
            lands.append(Land(str(side * per_side + i + 1), x, y, w, h))
    return lands


def _dual(match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    """No-lead in two rows: KiCad DFN-8 3x3, pad 0.65 x 0.35 at +-1.55, exposed pad 1.55 x 2.4."""
    given = int(match[2]) if match[2] else len(pins)
    count = max(4, given - given % 2)
    size = float(match[3]) if match[3] else 2.0 if count <= 6 else 3.0
    pitch = 0.65 if (count / 2 - 1) * 0.65 < size - 0.65 else 0.5
    half, far = (count / 2 - 1) * pitch / 2, size / 2 + 0.05
    lands = [Land(str(i + 1), -far, -half + i * pitch, 0.65, 0.35 if pitch > 0.5 else 0.25) for i in range(count // 2)]
    lands += [Land(str(count - i), far, land.y_mm, land.width_mm, land.height_mm) for i, land in enumerate(lands)]
    lands.append(Land(str(count + 1), 0.0, 0.0, 1.55 * size / 3, 2.4 * size / 3))
    return LandPattern("no-lead", (size, size), tuple(lands))


def _power(match: re.Match[str], _pins: list[str], _body: tuple[float, float]) -> LandPattern:
    """Four leads and a tab, pin 5, under the body: KiCad PowerPAK_SO-8_Single, Vishay_PowerPAK_1212-8_Single."""
    large = match[1] == "5X6"
    x, pitch, w, h = (-2.67, 1.27, 1.27, 0.61) if large else (-1.435, 0.66, 0.99, 0.405)
    leads = tuple(Land(str(i + 1), x, (i - 1.5) * pitch, w, h) for i in range(4))
    tab = Land("5", 0.69, 0.0, 3.81, 3.91) if large else Land("5", 0.5575, 0.0, 1.725, 2.235)
    return LandPattern("no-lead", (5.9, 4.9) if large else (3.05, 3.05), (*leads, tab))


def _coil(match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    """Power coil: KiCad L_Taiyo-Yuden_NR-40xx, pads 1.2 x 3.7 at +-1.4 on a 4 mm body, scaled with the body."""
    across, digits = match[2], match[3]
    size = float(across) if across else 0.0
    if digits:  # 4020 is 4.0 by 2.0 mm, 1040 is 10 by 4 mm
        size = float(digits[:2]) if digits[0] == "1" else float(digits[:2]) / 10
    size = size or (max(body) if max(body) >= 2.0 else 4.0)
    k = size / 4.0
    return _two(pins, (1.4 * k, 1.2 * k, 3.7 * k, size, size), "coil")


def _balls(match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    count = int(match[2]) if match[2] else len(pins)
    across = max(2, math.ceil(math.sqrt(count)))
    placed = max(body)
    pitch = next((p for p in (0.8, 0.65, 0.5, 0.4, 0.35) if across * p <= placed), 0.8 if placed <= 1.0 else 0.4)
    half, size = (across - 1) * pitch / 2, across * pitch + 0.2
    lands = tuple(
        Land(f"{_BALL_ROWS[r % 20]}{c + 1}", -half + c * pitch, -half + r * pitch, pitch * 0.5, pitch * 0.5)
        for r in range(across)
        for c in range(across)
    )
    return LandPattern("balls", (size, size), lands, sourced=False)


def _header(match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    """One row through the board: 2.54 mm headers have 1.7 mm pads and 1.0 mm holes (KiCad PinHeader_1x)."""
    return _line(pins, 2.54, 1.7, 1.0, (2.5, 2.54 * len(pins)))


def _line(pins: list[str], pitch: float, pad: float, drill: float, body: tuple[float, float]) -> LandPattern:
    half = (len(pins) - 1) * pitch / 2
    lands = tuple(Land(n, 0.0, -half + i * pitch, pad, pad, drill) for i, n in enumerate(pins))
    return LandPattern("line", body, lands)


def _connector(_match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    """Surface-mount contacts in one line along the far edge of a housing; no one maker's part."""
    count = max(1, len(pins))
    width, height = (max(body), min(body)) if max(body) > 1.5 else (1.25 * count + 3.0, 4.2)
    pitch = min(2.0, max(0.5, round((width - 2.2) / count / 0.25) * 0.25)) if count > 1 else 0.0
    pitch = min(pitch, (width - 0.8) / count)
    half, pad_w, pad_h = (count - 1) * pitch / 2, min(0.6 * pitch if pitch else 1.5, 1.6), 1.6
    lands = tuple(Land(n, -half + i * pitch, -height / 2, pad_w, pad_h) for i, n in enumerate(pins))
    return LandPattern("line", (width, height), lands, sourced=False)


def _point(_match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    size = body[0] if 0.4 <= body[0] <= 3.0 else 1.0
    return LandPattern("bare", (size, size), (Land(pins[0] if pins else "1", 0.0, 0.0, size, size),))


def _can(match: re.Match[str], pins: list[str], body: tuple[float, float]) -> LandPattern:
    """Crystal 3.2 x 2.5 mm with four pads 1.4 x 1.2 at (+-1.1, +-0.85): KiCad Crystal_SMD_3225-4Pin."""
    at = ((-1.1, 0.85), (1.1, 0.85), (1.1, -0.85), (-1.1, -0.85))
    if len(pins) <= 2:
        return _two(pins, (1.1, 1.0, 1.9, 3.2, 1.5), "can")
    return LandPattern("can", (3.2, 2.5), tuple(Land(str(i + 1), x, y, 1.4, 1.2) for i, (x, y) in enumerate(at)))


def _generic(pins: list[str], body: tuple[float, float]) -> LandPattern:
    """An unknown package: two pads at the ends, else two rows inside the placed size."""
    width, height = max(body[0], 0.5), max(body[1], 0.3)
    if len(pins) == 1:
        return LandPattern("bare", (width, height), (Land(pins[0], 0.0, 0.0, width, height),), sourced=False)
    if len(pins) == 2:
        names = (pins[0], pins[1])
        pads = tuple(Land(n, s * width * 0.45, 0.0, width * 0.45, height) for n, s in zip(names, (-1, 1), strict=True))
        return LandPattern("chip", (width, height), pads, sourced=False)
    per_side = math.ceil(len(pins) / 2)
    pitch = height / per_side
    lands = []
    for i, name in enumerate(pins):
        left = i < per_side
        row = i if left else len(pins) - 1 - i
        x = (-1 if left else 1) * width / 2
        lands.append(Land(name, x, -height / 2 + (row + 0.5) * pitch, min(1.2, width * 0.3), pitch * 0.55))
    return LandPattern("gull", (width * 0.8, height), tuple(lands), sourced=False)


_Make = Callable[[re.Match[str], list[str], tuple[float, float]], LandPattern]
_CASE = r"(0201|0402|0603|0805|1206|1210|2010|2512)"
_FAMILIES: tuple[tuple[str, _Make], ...] = (
    (rf"(C|R|L|F|FB|D|LED)?-?{_CASE}", _chip),
    (r"D?-?(SOD-?123|SOD-?323|SMA|SMB)", _moulded),
    (r"T?SOT-?23|SOT-?26", _sot23),
    (r"SOT-?323|SC-?70$|SC-?70-3", _sot323),
    (r"SOT-?223", _sot223),
    (r"TO-?252|DPAK", _tab),
    (r"(SOIC-?W|SOIC|TSSOP|VSSOP|SSOP|MSOP|SOP|SOT-?363|SOT-?353|SC-?70|SOT-?563|SO)-?(\d{1,2})?(W)?", _rows),
    (r"[VUWX]?(L?QFN|T?L?QFP)-?(\d+)?(?:.*?(\d+(?:\.\d+)?)X)?", _quad),
    (r"POWER-?(5X6|3X3)", _power),
    (r"[VUWX]?(DFN|SON)-?(\d+)?(?:.*?(\d+(?:\.\d+)?)X)?", _dual),
    (r"(COIL|IND|INDUCTOR|POWER-COIL|NR|L)-?(?:(\d+(?:\.\d+)?)X|(\d{4}))?", _coil),
    (r"[A-Z]*(BGA|CSP|WLP)-?(\d+)?", _balls),
    (r"HDR|HEADER|PIN-?HEADER", _header),
    (r"TP|TEST-?POINT", _point),
    (r"(XTAL|CRYSTAL|3225)", _can),
    (r"(CONN|JST|USB|FFC|FPC|JACK|BARREL|BATT|HDMI|SD|LINE|TERMINAL|PLUG|SOCKET)", _connector),
)
"""Which maker of patterns answers to which name; a new family is one line here and one function above."""
