"""Real boards with everything hidden that a repairer does not see: kinds and values, net names, references.

What stays are the chips with the pin names of their datasheets, the copper, and the sizes of the parts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ohmwright.circuit import Board, Net, Part, Pin, Rating
from ohmwright.partbook.neighbours import Taken, neighbours
from ohmwright.partbook.seen import KINDS, sort_of


@dataclass(frozen=True)
class Hidden:
    board: Board
    pin_names: Mapping[str, Mapping[str, str]]
    kinds: Mapping[str, str]
    """Hidden name to its true kind, sorts only: a polymer counts as a capacitor."""
    real_name: Mapping[str, str]


def hidden(board: Board, pin_names: Mapping[str, Mapping[str, str]] | None = None) -> Hidden:
    nets = {net.name: f"N{k}" for k, net in enumerate(board.nets)}
    parts, kinds, real, names = [], {}, {}, {}
    for k, part in enumerate(board.parts):
        pins = tuple(Pin(p.number, nets.get(p.net or ""), "", p.name if len(part.pins) > 2 else "") for p in part.pins)
        name = f"X{k}"
        real[name] = part.name
        if len(part.pins) == 2 and part.kind in KINDS and len(part.nets) == 2:
            kinds[name] = sort_of(part.kind)
            parts.append(Part(name, "unknown-two-pads", pins, place=part.place))
        else:
            kind = part.kind if part.kind in ("connector", "mechanical") else "ic"
            parts.append(
                replace(part, name=name, kind=kind, pins=pins, value=None, package="", rating=Rating(), source="")
            )
            names[name] = dict((pin_names or {}).get(part.name, {}))
    bare = Board("hidden", nets[board.ground], tuple(Net(nets[n.name]) for n in board.nets), tuple(parts))
    return Hidden(bare, names, kinds, real)


@dataclass(frozen=True)
class Score:
    n: int
    first: int
    third: int
    plain: int
    """What a list by commonness alone (capacitor, resistor, ...) gets right first."""

    def __add__(self, other: Score) -> Score:
        return Score(self.n + other.n, self.first + other.first, self.third + other.third, self.plain + other.plain)

    def words(self) -> str:
        n = max(self.n, 1)
        first, third, plain = (f"{x / n:.1%}" for x in (self.first, self.third, self.plain))
        return f"n={self.n} top-1 {first} top-3 {third} (always a capacitor {plain})"


def ranked_sorts(taken: Taken) -> list[str]:
    sums: dict[str, float] = {}
    for kind, chance in taken.kinds:
        sums[sort_of(kind)] = sums.get(sort_of(kind), 0.0) + chance
    return sorted(sums, key=lambda kind: -sums[kind])


def kind_score(case: Hidden) -> tuple[Score, list[str]]:
    by_name = {entry.part: entry for entry in neighbours(case.board, case.pin_names)}
    total, wrong = Score(0, 0, 0, 0), []
    for name, kind in case.kinds.items():
        ranks = ranked_sorts(by_name[name])
        total += Score(1, int(ranks[0] == kind), int(kind in ranks[:3]), int(kind == "capacitor"))
        if ranks[0] != kind:
            entry = by_name[name]
            role = (
                f"{entry.places[0][0].role.name} of {case.real_name[entry.places[0][0].chip]}" if entry.places else ""
            )
            wrong.append(f"{case.real_name[name]} {kind} taken for {entry.kinds[:3]} {role} {entry.else_name}")
    return total, wrong


def role_score(case: Hidden, roles: Mapping[str, tuple[str, ...]]) -> tuple[Score, list[str]]:
    """Roles by real reference: the roles that would be right, as ``U4: input coil``."""
    by_name = {case.real_name[entry.part]: entry for entry in neighbours(case.board, case.pin_names)}
    total, wrong = Score(0, 0, 0, 0), []
    for name, right in roles.items():
        entry = by_name[name]
        ranks = [f"{case.real_name[place.chip]}: {place.role.name}" for place, share in entry.places]
        left = 1.0 - sum(share for _, share in entry.places)
        better = sum(share > left for _, share in entry.places)
        ranks.insert(better, "other")
        total += Score(1, int(ranks[0] in right), int(any(rank in right for rank in ranks[:3])), 0)
        if ranks[0] not in right:
            wrong.append(
                f"{name}: {right} but {[(r, round(s, 2)) for r, (_, s) in zip(ranks, entry.places, strict=False)][:4]}"
            )
    return total, wrong
