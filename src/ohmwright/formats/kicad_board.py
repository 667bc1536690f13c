"""KiCad board files, formats 5 to 9, into a board: parts, pins, nets, places, and what cannot be known."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ohmwright.circuit import Board, Net, Part, Pin, Place, Rating
from ohmwright.errors import FileFormatError
from ohmwright.partbook.kinds import Guess, RawPin, kind_of
from ohmwright.partbook.rails import ground_of, is_ground, is_rail, volts_of
from ohmwright.syntax.sexpr import Sexpr, atom, child, children, parse_sexpr, read_text

OLDEST, NEWEST = 20171130, 20251231
"""Versions read: those of KiCad 5 to 9."""
SKIPPED = frozenset(
    {
        "segment", "arc", "via", "zone", "fp_line", "fp_arc", "fp_poly", "fp_circle", "fp_curve", "fp_rect",
        "gr_line", "gr_arc", "gr_text", "gr_poly", "gr_circle", "gr_rect", "gr_curve", "dimension", "model",
        "effects", "setup", "layers", "group", "embedded_fonts", "embedded_files", "target", "image", "table",
    }
)  # fmt: skip
MOST_PARTS, MOST_PADS = 20_000, 200_000
ENTRY = re.compile(r"USB|JACK|BARREL|PWR|POWER|DC|TB\d|TERMINAL|BATT|VIN|SCREW|PHOENIX", re.I)


@dataclass(frozen=True, slots=True)
class _Raw:
    reference: str
    value: str
    footprint: str
    pins: tuple[RawPin, ...]
    place: Place


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
    raws = tuple(_parts(tree, where))
    pads = Counter(pin.net for raw in raws for pin in raw.pins if pin.net)
    ground = ground_of(pads)
    if ground is None or len(pads) < 2:
        raise FileFormatError(
            "No pad of this board is on a net.",
            where=where,
            why="without nets there is no circuit to solve",
            hint="update the board from its schematic, or describe parts and nets in JSON",
        )
    return _board(Path(path).stem, raws, dict(pads), ground)


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


def _parts(tree: list[Sexpr], where: str) -> Iterator[_Raw]:
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
            raw = _Raw(fresh, raw.value, raw.footprint, raw.pins, raw.place)
        yield raw


def _part(node: list[Sexpr], where: str) -> _Raw:
    texts = {atom(t, 1): atom(t, 2) for t in children(node, "fp_text")}
    told = {atom(p, 1).lower(): atom(p, 2) for p in children(node, "property")}
    reference = told.get("reference") or texts.get("reference", "")
    value = told.get("value") or texts.get("value", "")
    x, y, angle = _at(node, where)
    bottom = atom(child(node, "layer")).startswith("B")
    pins: dict[str, RawPin] = {}
    xs, ys = [x], [y]
    for pad in children(node, "pad"):
        number = atom(pad, 1)
        px, py, _ = _at(pad, where)
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        xs.append(x + px * c + py * s)
        ys.append(y - px * s + py * c)
        net = atom(child(pad, "net"), 2) or None
        if net is not None and net.startswith("unconnected-"):
            net = None
        if number and (number not in pins or pins[number].net is None):
            pins[number] = RawPin(number, net, atom(child(pad, "pinfunction")), atom(child(pad, "pintype")))
    width, height = max(xs) - min(xs) + 0.6, max(ys) - min(ys) + 0.6
    place = Place((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2, "bottom" if bottom else "top", width, height, angle)
    return _Raw(reference.strip(), value.strip(), atom(node, 1), tuple(pins.values()), place)


def _at(node: list[Sexpr], where: str) -> tuple[float, float, float]:
    at = child(node, "at")
    if at is None:
        return 0.0, 0.0, 0.0
    try:
        numbers = [float(word) for word in at[1:4] if isinstance(word, str) and word not in ("unlocked", "locked")]
    except ValueError:
        raise FileFormatError(
            f"A position is not a number: {at[1:4]}.", where=where, hint="export the board again"
        ) from None
    if not all(math.isfinite(n) and abs(n) < 1e5 for n in numbers):
        raise FileFormatError(
            f"A position lies outside any board: {numbers} mm.", where=where, hint="export the board again"
        )
    x, y, angle = (*numbers, 0.0, 0.0, 0.0)[:3]
    return x, y, angle


def _board(name: str, raws: tuple[_Raw, ...], pads: dict[str, int], ground: str) -> Board:
    capacitors = Counter(
        net
        for raw in raws
        if raw.reference[:1] == "C" and len(raw.pins) == 2 and ground in {p.net for p in raw.pins}
        for net in {p.net for p in raw.pins} - {ground}
        if net
    )
    rails = frozenset(
        net for net in pads if net != ground and (is_rail(net) or capacitors[net] >= 3) and not is_ground(net)
    )
    at_coil = {
        pin.net for raw in raws if re.match(r"L\d", raw.reference) and len(raw.pins) == 2 for pin in raw.pins if pin.net
    }
    coils = frozenset(at_coil - rails - {ground})
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


def _as_part(raw: _Raw, guess: Guess) -> Part:
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
        likely = int(bool(ENTRY.search(f"{part.name} {part.package} {part.source}"))) + int(len(part.nets) <= 4)
        for net in part.nets:
            if net in rails:
                weight[net] = max(weight.get(net, (0, 0.0)), (likely, volts_of(net) or 0.0))
    return tuple(sorted(weight, key=lambda net: weight[net], reverse=True)[:4])
