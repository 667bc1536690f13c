"""Which pads are one copper, as far as continuity readings say, and which readings hold them together.

A beep says *same at DC*. It is the same copper too, unless a coil, a fuse or another part that conducts
lies between: then the beep came through that part and joins nothing. No beep forbids both. So the answer
depends on all that was heard together, not on the order in which it was heard: beeps at a conducting
part's own pads are taken first, and what those explain tells nothing new of the copper.

No two-pad part that blocks has both its pads on one copper, or nobody would have fitted it. A beep that
would make it so came through a fault, such as a rail that is short to ground: it is held back too.

Once a capacitor itself beeps from end to end, its rail is short to whatever its other end is on, and a beep
between pads that may lie on either side of it tells nothing: from then on only such beeps join of which one
pad was found silent against that short, and what was joined by sight.

What cannot be true together is kept and shown, and never acted on: of two readings that disagree the
earlier one stands until one of them is taken back.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypeVar

Label = TypeVar("Label")


class Verdict(StrEnum):
    """What became of one thing heard."""

    COPPER = "same copper"
    THROUGH = "heard through a part"
    HELD = "held back"
    DOUBTFUL = "heard through a short, perhaps"
    APART = "not joined"


@dataclass(frozen=True, slots=True)
class Heard:
    """Two pads, and whether they beep.

    Parameters
    ----------
    sequence : int
        Of the entry that says so; later ones yield to earlier ones. [1]
    seen : bool
        Whether an eye followed the copper, or somebody who knows said so, instead of a tester.
    """

    a: str
    b: str
    beeps: bool
    sequence: int
    seen: bool = False


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Things heard that cannot all be true.

    Parameters
    ----------
    entries : tuple of int
        The two that disagree most directly, the later one last. [1]
    others : tuple of int
        What ties them together. [1]
    cures : tuple of int
        Each of these, taken back alone, leaves no disagreement here. [1]
    through : tuple of str
        Parts that conduct between the two pads: one of them may be open instead.
    across : str
        A part that blocks and would have both its pads on one copper: it, or its rail, may be short instead.
    """

    a: str
    b: str
    entries: tuple[int, ...]
    others: tuple[int, ...] = ()
    cures: tuple[int, ...] = ()
    through: tuple[str, ...] = ()
    across: str = ""


Conductors = tuple[tuple[str, str, str], ...]
"""Parts of two pads that conduct at DC: name, one pad, the other."""


WALL = 0
"""Number of what no entry says, and which stands before all that was heard. [1]"""


class Groups:
    """Pads that belong together; grown while it is made, and only copied afterwards."""

    __slots__ = ("members", "number")

    def __init__(self, number: dict[str, int] | None = None, members: dict[int, tuple[str, ...]] | None = None) -> None:
        self.number = number if number is not None else {}
        self.members = members if members is not None else {}

    def copy(self) -> Groups:
        """The same again, to be grown."""
        return Groups(dict(self.number), dict(self.members))

    def together(self, a: str, b: str) -> bool:
        """Whether two pads belong together."""
        return a == b or (a in self.number and self.number[a] == self.number.get(b))

    def around(self, pad: str) -> tuple[str, ...]:
        """All that belong together with a pad, itself among them."""
        return self.members[self.number[pad]] if pad in self.number else (pad,)

    def merge(self, a: str, b: str) -> None:
        """Let what belongs with one pad belong with the other too."""
        for pad in (a, b):
            if pad not in self.number:
                # Never a number that was used: every merge takes one away, and pads are never forgotten.
                fresh = len(self.number)
                self.number[pad], self.members[fresh] = fresh, (pad,)
        keep, go = self.number[a], self.number[b]
        if keep == go:
            return
        if len(self.members[keep]) < len(self.members[go]):
            keep, go = go, keep
        for pad in self.members[go]:
            self.number[pad] = keep
        self.members[keep] = (*self.members[keep], *self.members.pop(go))


@dataclass(frozen=True, slots=True)
class Copper:
    """All that was heard, and what it amounts to.

    Parameters
    ----------
    heard : tuple of Heard
        By sequence.
    verdicts : mapping of int to Verdict
        One for each thing heard, by sequence.
    walls : tuple
        Parts of two pads that block, in the same way.
    coppers, dc : Groups
        Pads that are one copper; and pads that are the same at DC.
    """

    heard: tuple[Heard, ...] = ()
    conductors: Conductors = ()
    verdicts: Mapping[int, Verdict] = field(default_factory=dict)
    coppers: Groups = field(default_factory=Groups, compare=False)
    dc: Groups = field(default_factory=Groups, compare=False)
    walls: Conductors = ()

    def same_copper(self, a: str, b: str) -> bool:
        """Whether two pads are one copper as far as is known."""
        return self.coppers.together(a, b)

    def pads_with(self, pad: str) -> tuple[str, ...]:
        """The copper a pad lies on, itself among it."""
        return self.coppers.around(pad)

    def conducting_path(self, a: str, b: str) -> tuple[str, ...] | None:
        """Fewest conducting parts between two pads, () on one copper, None where they are apart."""
        if not self.dc.together(a, b):
            return None
        return _hops(self._bridges(), self.node(a), self.node(b))

    def same_at_dc(self, pad: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Pads that are the same at DC but not the same copper, each with the parts between."""
        bridges, start = self._bridges(), self.node(pad)
        came: dict[str, tuple[str, ...]] = {start: ()}
        queue = deque([start])
        found: list[tuple[str, tuple[str, ...]]] = []
        while queue:
            here = queue.popleft()
            for part, there in bridges.get(here, ()):
                if there not in came:
                    came[there] = (*came[here], part)
                    queue.append(there)
                    found += [(other, came[there]) for other in self._pads_at(there)]
        return tuple(found)

    def holding(self, a: str, b: str) -> tuple[int, ...] | None:
        """Sequence numbers of the fewest readings that hold two pads together; None where none do. [1]"""
        if not self.same_copper(a, b):
            return None
        wanted = set(self.pads_with(a))
        steps: dict[str, list[tuple[int, str]]] = {}
        for one in self.heard:
            if one.a in wanted and self.verdicts[one.sequence] is Verdict.COPPER:
                steps.setdefault(one.a, []).append((one.sequence, one.b))
                steps.setdefault(one.b, []).append((one.sequence, one.a))
        return _hops(steps, a, b)

    def with_heard(self, one: Heard) -> Copper:
        """With one more thing heard, later than all others; the same as beginning anew, and faster."""
        if self.shorts() or any({one.a, one.b} == {p, q} for _, p, q in self.walls):
            return copper_of((*self.heard, one), self.conductors, self.walls)
        touches = any(one.a in (p, q) or one.b in (p, q) for _, p, q in self.conductors)
        if one.beeps and (touches or one.seen) and not self._plain(one):
            return copper_of((*self.heard, one), self.conductors, self.walls)
        return self._taken(one)

    def shorts(self) -> tuple[Heard, ...]:
        """Beeps from end to end of a part that blocks: its rail is short, or the part."""
        ends = {frozenset((p, q)) for _, p, q in self.walls}
        return tuple(one for one in self.heard if one.beeps and not one.seen and frozenset((one.a, one.b)) in ends)

    def with_barriers(self, conductors: Conductors, walls: Conductors) -> Copper:
        """With other parts that conduct or block; at once where nothing was heard yet at those that are new."""
        if (conductors, walls) == (self.conductors, self.walls):
            return self
        new = {*conductors} - {*self.conductors} | {*walls} - {*self.walls}
        gone = {*self.conductors} - {*conductors} | {*self.walls} - {*walls}
        at = {pad for _, p, q in new for pad in (p, q)}
        if gone or any(one.a in at or one.b in at for one in self.heard):
            return copper_of(self.heard, conductors, walls)
        if conductors == self.conductors:
            return replace(self, walls=walls)
        dc = self.dc.copy()
        for _, p, q in conductors:
            dc.merge(p, q)
        return replace(self, conductors=conductors, walls=walls, dc=dc)

    def _plain(self, one: Heard) -> bool:
        """Whether a beep at a conducting part changes nothing of what was heard before it."""
        if self.dc.together(one.a, one.b) or Verdict.HELD in self.verdicts.values():
            return False
        return self._forbidden(one) is None

    def _taken(self, one: Heard) -> Copper:
        verdict = Verdict.APART
        if one.beeps:
            verdict = _verdict(one, self.coppers, self.dc, forbidden=lambda: self._forbidden(one) is not None)
        heard, verdicts = (*self.heard, one), {**self.verdicts, one.sequence: verdict}
        if verdict is not Verdict.COPPER or self.same_copper(one.a, one.b):
            return replace(self, heard=heard, verdicts=verdicts)
        coppers, dc = self.coppers.copy(), self.dc.copy()
        coppers.merge(one.a, one.b)
        dc.merge(one.a, one.b)
        return replace(self, heard=heard, verdicts=verdicts, coppers=coppers, dc=dc)

    def _forbidden(self, one: Heard) -> Heard | None:
        """An earlier silence, or a part that blocks, between the two coppers that a beep would join."""
        ends = {self.node(one.a), self.node(one.b)}
        walls = (Heard(p, q, False, WALL) for _, p, q in self.walls)
        silences = (other for other in self.heard if not other.beeps and other.sequence < one.sequence)
        return next((other for other in (*walls, *silences) if {self.node(other.a), self.node(other.b)} == ends), None)

    def node(self, pad: str) -> str:
        """A copper of several pads, or a pad nothing was heard of."""
        number = self.coppers.number.get(pad)
        return pad if number is None else f"#{number}"

    def _pads_at(self, node: str) -> tuple[str, ...]:
        return self.coppers.members[int(node[1:])] if node.startswith("#") else (node,)

    def _bridges(self) -> dict[str, list[tuple[str, str]]]:
        found: dict[str, list[tuple[str, str]]] = {}
        for part, p, q in self.conductors:
            here, there = self.node(p), self.node(q)
            found.setdefault(here, []).append((part, there))
            found.setdefault(there, []).append((part, here))
        return found

    def disagreements(self) -> tuple[Disagreement, ...]:
        """What was heard and cannot all be true, in the order in which it was heard."""
        found = (self._held(one) if one.beeps else self._silent(one) for one in self.heard)
        return tuple(one for one in found if one is not None)

    def _held(self, one: Heard) -> Disagreement | None:
        """A beep that an earlier silence forbids."""
        other = self._forbidden(one) if self.verdicts[one.sequence] is Verdict.HELD else None
        if other is None:
            return None
        a, b = (other.a, other.b) if self.same_copper(other.a, one.a) else (other.b, other.a)
        others = tuple(sorted({*(self.holding(a, one.a) or ()), *(self.holding(b, one.b) or ())}))
        entries = (other.sequence, one.sequence) if other.sequence != WALL else (one.sequence,)
        across = next((part for part, p, q in self.walls if {p, q} == {other.a, other.b}), "")
        cures = (
            key for key in (*entries, *others) if self._without(key).verdicts.get(one.sequence) is not Verdict.HELD
        )
        return Disagreement(
            one.a, one.b, entries, others, tuple(sorted(cures)), across=across if len(entries) == 1 else ""
        )

    def _silent(self, one: Heard) -> Disagreement | None:
        """A silence where beeps, or a part that conducts, say otherwise."""
        path = self.holding(one.a, one.b)
        if path is None:
            through = self.conducting_path(one.a, one.b)
            return Disagreement(one.a, one.b, (one.sequence,), (), (one.sequence,), through) if through else None
        last = max(path, default=0)
        cures = (key for key in (*path, one.sequence) if not self._without(key).tells_of(one))
        entries = tuple(sorted({last, one.sequence} - {0}))
        return Disagreement(one.a, one.b, entries, tuple(sorted({*path} - {last})), tuple(sorted(cures)))

    def tells_of(self, silence: Heard) -> bool:
        """Whether a silence is still on record here, and still disagreed with."""
        return silence.sequence in self.verdicts and self.same_copper(silence.a, silence.b)

    def _without(self, sequence: int) -> Copper:
        return copper_of((one for one in self.heard if one.sequence != sequence), self.conductors, self.walls)


def copper_of(
    heard: Iterable[Heard],
    conductors: Iterable[tuple[str, str, str]] = (),
    walls: Iterable[tuple[str, str, str]] = (),
) -> Copper:
    """What all that was heard amounts to.

    What was followed by eye is weighed first, then beeps at the pads of conducting parts, then the others; each
    kind in the order of entry.
    """
    line = tuple(sorted(heard, key=lambda one: one.sequence))
    bridges, blocked = tuple(conductors), tuple(walls)
    ends = {pad for _, p, q in bridges for pad in (p, q)}
    verdicts = {one.sequence: Verdict.APART for one in line if not one.beeps}
    silent: dict[str, list[tuple[str, int]]] = {}
    for one in (*(Heard(p, q, False, WALL) for _, p, q in blocked), *line):
        if not one.beeps:
            silent.setdefault(one.a, []).append((one.b, one.sequence))
            silent.setdefault(one.b, []).append((one.a, one.sequence))
    coppers, dc = Groups(), Groups()
    for _, p, q in bridges:
        dc.merge(p, q)
    beeps = [one for one in line if one.beeps]
    across = {frozenset((p, q)) for _, p, q in blocked}
    shorts = [one for one in beeps if not one.seen and frozenset((one.a, one.b)) in across]
    for one in sorted(beeps, key=lambda one: (not one.seen, not {one.a, one.b} & ends, one.sequence)):
        verdict = _verdict(one, coppers, dc, forbidden=lambda one=one: _silence_between(one, coppers, silent))  # type: ignore[misc]  # bound early on purpose
        if verdict is Verdict.COPPER and not coppers.together(one.a, one.b) and _doubtful(one, shorts, coppers, silent):
            verdict = Verdict.DOUBTFUL
        verdicts[one.sequence] = verdict
        if verdict is Verdict.COPPER:
            coppers.merge(one.a, one.b)
            dc.merge(one.a, one.b)
    return Copper(line, bridges, verdicts, coppers, dc, blocked)


def _verdict(one: Heard, coppers: Groups, dc: Groups, forbidden: Callable[[], bool]) -> Verdict:
    """What a beep amounts to beside those weighed before it."""
    if coppers.together(one.a, one.b):
        return Verdict.COPPER
    if dc.together(one.a, one.b):
        return Verdict.THROUGH
    return Verdict.HELD if forbidden() else Verdict.COPPER


def _doubtful(
    one: Heard, shorts: Sequence[Heard], coppers: Groups, silent: Mapping[str, Sequence[tuple[str, int]]]
) -> bool:
    """Whether a beep may have come through a short that was found before it."""
    found = [short for short in shorts if short.sequence < one.sequence]
    if one.seen or not found:
        return False
    at = {end for short in found for end in (short.a, short.b)}
    return not any(
        coppers.together(other, end)
        for pad in (*coppers.around(one.a), *coppers.around(one.b))
        for other, sequence in silent.get(pad, ())
        for end in at
        if sequence != WALL
    )


def _silence_between(one: Heard, coppers: Groups, silent: Mapping[str, Sequence[tuple[str, int]]]) -> bool:
    few, many = sorted((coppers.around(one.a), coppers.around(one.b)), key=len)
    return any(
        sequence < one.sequence and (other == many[0] or coppers.together(other, many[0]))
        for pad in few
        for other, sequence in silent.get(pad, ())
    )


def _hops(steps: Mapping[str, Sequence[tuple[Label, str]]], start: str, goal: str) -> tuple[Label, ...] | None:
    """Labels of the fewest steps from start to goal, or None."""
    came: dict[str, tuple[Label, ...]] = {start: ()}
    queue = deque([start])
    while queue:
        here = queue.popleft()
        if here == goal:
            return came[here]
        for label, there in steps.get(here, ()):
            if there not in came:
                came[there] = (*came[here], label)
                queue.append(there)
    return None
