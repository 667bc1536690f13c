"""KiCad board files, formats 5 to 9, into a board: parts, pins, nets, places, and what cannot be known."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from ohmwright.circuit import Board, Net, Part, Pin, Place, Rating
from ohmwright.errors import FileFormatError
from ohmwright.partbook.kinds import NOT_FITTED, Guess, RawPin, kind_of
from ohmwright.partbook.rails import ground_of, is_ground, is_rail, volts_of
from ohmwright.syntax.sexpr import Sexpr, atom, child, children, parse_sexpr, read_text

OLDEST, NEWEST = 20171130, 20251231
"""Versions read: those of KiCad 5 to 9."""
SKIPPED = frozenset(
    {
        "segment", "arc", "via", "zone", "fp_line", "fp_arc", "fp_poly", "fp_circle", "fp_curve", "fp_rect",
        "gr_text", "gr_poly", "gr_curve", "dimension", "model", "effects", "setup", "layers", "group",
        "embedded_fonts", "embedded_files", "target", "image", "table",
    }
)  # fmt: skip
MOST_PARTS, MOST_PADS = 20_000, 200_000
FARTHEST_MM = 2_000.0
JACK = re.compile(r"JACK|BARREL|DC[-_ ]?IN|PWR|USB", re.I)
"""Power comes in at these; at terminals it may as well go out."""
ENTRY = re.compile(r"USB|JACK|BARREL|PWR|POWER|DC|TB\d|TERMINAL|BATT|VIN|SCREW|PHOENIX", re.I)


@dataclass(frozen=True, slots=True)
class Described:
    """A part as files of boards and netlists describe it, before anybody asked what kind it is."""

    reference: str
    value: str
    footprint: str
    pins: tuple[RawPin, ...]
    place: Place | None


def read_kicad_board(path: Path | str) -> Board:
    """The board of a KiCad board file.

    Parameters
    ----------
    path : Path or str

    Returns
    -------
    Board
        Its notes say what was guessed and what is an unknown load.

    Raises
    ------
    FileFormatError
        If it is not such a file, of a version not read, or without nets.
    """
    tree = kicad_tree(path)
    return board_of(Path(path).stem, tuple(described_parts(tree, str(path))), str(path))


def kicad_tree(path: Path | str) -> list[Sexpr]:
    """What stands in a KiCad board file, without its copper; of a version that is read here."""
    where = str(path)
    tree = parse_sexpr(read_text(path), where=where, skip=SKIPPED)
    if not tree or tree[0] != "kicad_pcb":
        raise FileFormatError(
            "This is not a KiCad board file.",
            where=where,
            why=f"it begins with {atom(tree, 0)!r}",
            hint="hand over the .kicad_pcb",
        )
    _check_version(tree, where)
    return tree


def board_of(name: str, raws: tuple[Described, ...], where: str = "") -> Board:
    """The board of parts that a file describes, with their kinds, rails and entries guessed.

    Raises
    ------
    FileFormatError
        If no pin is on a net.
    """
    pads = Counter(pin.net for raw in raws for pin in raw.pins if pin.net)
    ground = ground_of(pads)
    if ground is None or len(pads) < 2:
        raise FileFormatError(
            "No pad of this board is on a net.",
            where=where,
            why="without nets there is no circuit to solve",
            hint="update the board from its schematic, or describe parts and nets in JSON",
        )
    return _board(name, raws, dict(pads), ground)


def _check_version(tree: list[Sexpr], where: str) -> None:
    text = atom(child(tree, "version"))
    version = int(text) if text.isdigit() and len(text) <= 8 else 0
    if version in range(3, 6) or version >= OLDEST:
        if version > NEWEST:
            raise FileFormatError(
                f"Version {version} is newer than any this program knows.",
                where=where,
                why="a newer KiCad may have changed what the words mean",
                hint="save it from an older KiCad, or tell us that this version appeared",
            )
        return
    raise FileFormatError(
        f"Version {text or 'unknown'} is too old to read.", where=where, hint="open and save it with KiCad 5 or newer"
    )


def described_parts(tree: list[Sexpr], where: str) -> Iterator[Described]:
    """The parts of a board file, one for each footprint in it, in its order."""
    names: Counter[str] = Counter()
    n_pads = 0
    for node in tree:
        if not isinstance(node, list) or not node or node[0] not in ("module", "footprint"):
            continue
        raw = _part(node, where)
        n_pads += len(raw.pins)
        names[raw.reference] += 1
        if sum(names.values()) > MOST_PARTS or n_pads > MOST_PADS:
            raise FileFormatError(
                f"The board has more than {MOST_PARTS} parts or {MOST_PADS} pads.", where=where, hint="check the file"
            )
        if names[raw.reference] > 1 or not raw.reference:
            fresh = f"{raw.reference or 'part'}#{names[raw.reference]}"
            raw = Described(fresh, raw.value, raw.footprint, raw.pins, raw.place)
        yield raw


def _part(node: list[Sexpr], where: str) -> Described:
    texts = {atom(t, 1): atom(t, 2) for t in children(node, "fp_text")}
    told = {atom(p, 1).lower(): atom(p, 2) for p in children(node, "property")}
    reference = _plain(told.get("reference") or texts.get("reference", ""))
    value = _plain(told.get("value") or texts.get("value", ""))
    if "dnp" in (child(node, "attr") or []):
        value = f"DNP {value}"
    pads = tuple(children(node, "pad"))
    return Described(reference.strip(), value.strip(), atom(node, 1), tuple(_pins(pads)), _place(node, pads, where))


def _pins(pads: tuple[list[Sexpr], ...]) -> Iterator[RawPin]:
    """One pin per number; where pads of one number lie on two nets, the second is a pin of its own."""
    seen: dict[str, list[str | None]] = {}
    joined = {atom(pad, 1) for pad in pads if _net_of(pad) is not None}
    for pad in pads:
        number, net = atom(pad, 1).strip(), _net_of(pad)
        nets = seen.setdefault(number, [])
        if not number or net in nets or (net is None and number in joined):
            continue
        nets.append(net)
        name, kind = _plain(atom(child(pad, "pinfunction"))), atom(child(pad, "pintype"))
        yield RawPin(number if len(nets) == 1 else f"{number}+{len(nets)}", net, name, kind)


def _net_of(pad: list[Sexpr]) -> str | None:
    """Name of a pad's net, as ``(net 5 "GND")`` or without the number; None for pads joined to nothing."""
    node = child(pad, "net")
    name = "" if node is None else _plain(atom(node, 2 if len(node) > 2 else 1))
    return None if not name or name.startswith("unconnected-") else name


def _plain(text: str) -> str:
    return text.replace("{slash}", "/") if "{" in text else text


def _place(node: list[Sexpr], pads: tuple[list[Sexpr], ...], where: str) -> Place:
    """Centre, size and turn of the box around the pads.

    KiCad turns counter-clockwise with y down; a pad's angle is the board's, not the part's; pads of parts on
    the bottom are stored as they lie, so nothing is mirrored here.
    """
    x, y, angle = numbers_after(node, "at", where)
    boxes = [_pad_box(pad, angle, where) for pad in pads] or [(0.0, 0.0, 0.0, 0.0)]
    left, right = min(b[0] - b[2] for b in boxes), max(b[0] + b[2] for b in boxes)
    top, bottom = min(b[1] - b[3] for b in boxes), max(b[1] + b[3] for b in boxes)
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    middle_x, middle_y = (left + right) / 2.0, (top + bottom) / 2.0
    return Place(
        round(x + middle_x * cos + middle_y * sin, 6),
        round(y - middle_x * sin + middle_y * cos, 6),
        "bottom" if atom(child(node, "layer")).startswith("B.") else "top",
        round(right - left, 6),
        round(bottom - top, 6),
        angle % 360.0,
    )


def _pad_box(pad: list[Sexpr], part_angle: float, where: str) -> tuple[float, float, float, float]:
    """Centre and half sizes of a pad's box in the part's own frame. [mm]"""
    x, y, angle = numbers_after(pad, "at", where)
    width, height, _ = numbers_after(pad, "size", where)
    turn = math.radians(angle - part_angle)
    cos, sin = abs(math.cos(turn)), abs(math.sin(turn))
    return x, y, abs(width * cos + height * sin) / 2.0, abs(width * sin + height * cos) / 2.0


def numbers_after(node: list[Sexpr], head: str, where: str) -> tuple[float, float, float]:
    """The numbers after a word such as ``at`` or ``size``, missing ones as zero."""
    found = child(node, head) or []
    words = [word for word in found[1:4] if isinstance(word, str) and word not in ("unlocked", "locked")]
    try:
        numbers = [float(word) for word in words]
    except ValueError:
        raise FileFormatError(
            f"A position is not a number: {' '.join(words)[:60]}.", where=where, hint="export the board again"
        ) from None
    if not all(abs(n) <= FARTHEST_MM for n in numbers):
        raise FileFormatError(
            f"A position lies outside any board: {' '.join(words)[:60]} mm.",
            where=where,
            why=f"KiCad itself ends at 2147 mm; up to {FARTHEST_MM:g} mm is read",
            hint="export the board again",
        )
    x, y, angle = (*numbers, 0.0, 0.0, 0.0)[:3]
    return x, y, angle


def _board(name: str, raws: tuple[Described, ...], pads: dict[str, int], ground: str) -> Board:
    capacitors = Counter(
        net
        for raw in raws
        if re.match(r"CE?\d", raw.reference)
        and len(raw.pins) == 2
        and not NOT_FITTED.match(raw.value.strip().upper())
        and ground in {p.net for p in raw.pins}
        for net in {p.net for p in raw.pins} - {ground}
        if net
    )
    rails = frozenset(
        net for net in pads if net != ground and (is_rail(net) or capacitors[net] >= 3) and not is_ground(net)
    )
    coils = _switch_nets(raws, rails, ground, capacitors)
    rails |= _feeds(raws, coils, ground, capacitors)
    parts, notes = [], []
    for raw in raws:
        guess = kind_of(raw.reference, raw.value, raw.footprint, raw.pins, ground, rails, coils)
        parts.append(_as_part(raw, guess))
        if guess.kind in ("ic", "unknown-two-pads"):
            notes.append(f"{raw.reference}: {guess.why}")
    nets = tuple(
        Net(
            net,
            nominal=volts_of(net) if net in rails else None,
            rail=net in rails,
            source="name" if net in rails else "",
        )
        for net in sorted(pads)
    )
    return Board(name, ground, nets, tuple(parts), _entries(parts, rails), 0.02, tuple(notes))


def _switch_nets(
    raws: tuple[Described, ...], rails: frozenset[str], ground: str, capacitors: Mapping[str, int]
) -> dict[str, str]:
    """Nets at one coil that nothing holds, with the coil's far net, which must be held: possible switch nodes."""
    ends = [
        (a.net, b.net)
        for raw in raws
        if re.match(r"L\d", raw.reference) and len(raw.pins) == 2
        for a, b in (raw.pins, raw.pins[::-1])
        if a.net and b.net
    ]
    count = Counter(a for a, _ in ends)
    held = rails | {net for net, n in capacitors.items() if n}
    return {a: b for a, b in ends if count[a] == 1 and a not in held and a != ground and b in held}


def _feeds(
    raws: tuple[Described, ...], coils: Mapping[str, str], ground: str, capacitors: Mapping[str, int]
) -> frozenset[str]:
    """Nets that a chip with a pin at a coil is fed from, though their names do not say so."""
    used = Counter(net for raw in raws for net in {pin.net for pin in raw.pins if pin.net})
    found: set[str] = set()
    for raw in raws:
        nets = {pin.net for pin in raw.pins if pin.net}
        nameless = not any(pin.name for pin in raw.pins)
        if nameless and 4 <= len(raw.pins) <= 24 and nets & set(coils):
            # More parts than the chip and the capacitors: its own inner supply would have no others.
            found |= {net for net in nets - set(coils) if capacitors[net] and used[net] > capacitors[net] + 1}
            found |= {coils[net] for net in nets & set(coils)}
    return frozenset(found - {ground})


def _as_part(raw: Described, guess: Guess) -> Part:
    pins = tuple(Pin(pin.number, pin.net, role, pin.name) for pin, role in zip(raw.pins, guess.roles, strict=True))
    rating = Rating(volts=guess.volts, source=f"value {raw.value!r}") if guess.volts else Rating()
    return Part(
        raw.reference,
        guess.kind,
        pins,
        guess.value,
        raw.footprint,
        rating,
        raw.place,
        source=f"{raw.value}: {guess.why}",
    )


def _entries(parts: list[Part], rails: frozenset[str]) -> tuple[str, ...]:
    """Rails at connectors, those of power connectors and of most volts first."""
    weight: dict[str, tuple[int, float]] = {}
    for part in parts:
        if part.kind != "connector":
            continue
        text = f"{part.name} {part.package} {part.source}"
        likely = int(bool(ENTRY.search(text))) + int(bool(JACK.search(text))) + int(len(part.nets) <= 4)
        for net in part.nets:
            if net in rails:
                weight[net] = max(weight.get(net, (0, 0.0)), (likely, volts_of(net) or 0.0))
    return tuple(sorted(weight, key=lambda net: weight[net], reverse=True)[:4])
