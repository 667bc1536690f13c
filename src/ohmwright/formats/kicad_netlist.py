"""KiCad netlists (the ``.net`` of the schematic, versions D and E): parts, values, pins and nets, no places."""

from __future__ import annotations

from collections.abc import Iterator

from ohmwright.errors import FileFormatError
from ohmwright.formats.netlist import ListedPart, ListedPin, Netlist
from ohmwright.syntax.sexpr import Sexpr, atom, child, children, parse_sexpr

VERSIONS = frozenset({"D", "E"})
SKIPPED = frozenset({"libparts", "libraries", "libsource", "sheetpath", "tstamps", "fields", "property", "design"})
MOST_PINS = 400_000


def netlist_from_kicad(text: str, *, where: str = "the file") -> Netlist:
    """The netlist that a ``.net`` file of KiCad holds.

    Raises
    ------
    FileFormatError
        If it is no such file, of a version not read, or without nets.
    """
    tree = parse_sexpr(text, where=where, skip=SKIPPED)
    if not tree or tree[0] != "export":
        raise FileFormatError(
            "This is not a KiCad netlist.", where=where, why=f"it begins with {atom(tree, 0)[:40]!r}",
            hint="export the netlist from the schematic editor as KiCad's own kind",
        )  # fmt: skip
    version = atom(child(tree, "version"))
    if version not in VERSIONS:
        raise FileFormatError(
            f"Version {version[:20] or 'unknown'} of KiCad netlists is not read.", where=where,
            why="versions D and E are known", hint="export it again from KiCad 5 or newer",
        )  # fmt: skip
    parts = tuple(_parts(child(tree, "components") or []))
    pins = tuple(_pins(child(tree, "nets") or [], where))
    if not pins:
        raise FileFormatError("No pin of this netlist is on a net.", where=where, hint="export the netlist again")
    named = {part.name for part in parts}
    more = tuple(ListedPart(name) for name in dict.fromkeys(pin.part for pin in pins) if name not in named)
    return Netlist(where, (*parts, *more), pins)


def _parts(node: list[Sexpr]) -> Iterator[ListedPart]:
    for one in children(node, "comp"):
        if name := atom(child(one, "ref")).strip():
            yield ListedPart(name, atom(child(one, "value")), atom(child(one, "footprint")))


def _pins(node: list[Sexpr], where: str) -> Iterator[ListedPin]:
    count, seen = 0, set()
    for net in children(node, "net"):
        name = atom(child(net, "name")).replace("{slash}", "/")
        for one in children(net, "node"):
            count += 1
            if count > MOST_PINS:
                raise FileFormatError(f"More than {MOST_PINS} pins.", where=where, hint="check the file")
            part, pin = atom(child(one, "ref")).strip(), atom(child(one, "pin")).strip()
            if not part or not pin or (part, pin) in seen:
                continue
            seen.add((part, pin))
            joined = None if not name or name.startswith("unconnected-") else name
            yield ListedPin(part, pin, joined, atom(child(one, "pinfunction")), atom(child(one, "pintype")))
