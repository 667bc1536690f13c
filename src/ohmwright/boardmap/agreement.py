"""Whether a netlist belongs to the board on the bench: what was heard beside what the file says should be.

Three ways it can be: the file is of this board, and few readings disagree, each for a reason of its own;
it is of another revision, and some disagree; or it is of another board, and readings agree no oftener
than chance. Chance is worked out from the file: how often two of its pins share a net at all.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ohmwright.boardmap.copper import Conductors, Groups, Heard

SLIP = 0.03
"""Share of readings that disagree with the right file: a slip of the probe, a fault, a mistyped pad. [1] a guess"""
REVISED = 0.15
"""Share that disagree with a file of another revision. [1] 125 of 970 pins of one public board and its stale netlist"""
BEFORE = {"this board": 0.80, "another revision": 0.12, "another board": 0.08}
"""Belief before anything was heard. [1] a guess"""
TELLS = 0.95
"""Belief from which it is said outright. [1]"""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How what was heard and a file agree.

    Parameters
    ----------
    agree, disagree : tuple of int
        Entries, by sequence. [1]
    unknown : int
        Things heard at pads the file does not have. [1]
    belief : tuple of (str, float)
        How probable each of the three ways is. [1]
    """

    agree: tuple[int, ...]
    disagree: tuple[int, ...]
    unknown: int
    belief: tuple[tuple[str, float], ...]

    @property
    def belongs(self) -> float:
        """Probability that the file is of this very board. [1]"""
        return dict(self.belief)["this board"]

    @property
    def words(self) -> str:
        """The verdict, with its count and its probability."""
        count = len(self.agree) + len(self.disagree)
        if not count:
            return "nothing was measured yet that would tell whether the file belongs to this board"
        share = f"{len(self.agree)} of {count} readings agree with it"
        best, weight = max(self.belief, key=lambda one: one[1])
        if best == "this board":
            return f"the file fits this board ({share}; {weight:.0%} sure)" if weight >= TELLS else (
                f"the file may fit this board ({share}; {weight:.0%}); a few more readings will tell"
            )  # fmt: skip
        sure = "does not belong to this board" if self.belongs <= 1.0 - TELLS else "may not belong to this board"
        return (
            f"the file {sure}: it looks like one of {best} ({share}; {1.0 - self.belongs:.0%} that it is not this one)"
        )


def agreement(heard: Iterable[Heard], nets: Mapping[str, str | None], conductors: Conductors, ground: str) -> Agreement:
    """How things heard agree with a file.

    Parameters
    ----------
    nets : mapping of str to (str or None)
        The file's net of each pad, by ``PART.PIN``.
    conductors : tuple
        Its parts that conduct at DC: a beep may come through them.
    ground : str
        Its ground; pads may have been held against it by name.
    """
    dc = Groups()
    for _, p, q in conductors:
        if nets.get(p) and nets.get(q):
            dc.merge(str(nets[p]), str(nets[q]))
    agree: list[int] = []
    disagree: list[int] = []
    unknown = 0
    odds = dict.fromkeys(BEFORE, 0.0)
    same = _chance(nets)
    for one in heard:
        if not all(end in nets or end == ground for end in (one.a, one.b)):
            unknown += 1
            continue
        a, b = (ground if end == ground else nets[end] for end in (one.a, one.b))
        joined = a is not None and b is not None and dc.together(a, b)
        (agree if joined == one.beeps else disagree).append(one.sequence)
        # A beep with ground is likelier by chance than one with any other net.
        likely = _share(nets, ground) if ground in (one.a, one.b) else same
        chance = likely if joined else 1.0 - likely
        for way, slip in (("this board", SLIP), ("another revision", REVISED)):
            odds[way] += math.log(slip if joined != one.beeps else 1.0 - slip)
        odds["another board"] += math.log(max(chance, 1e-6))
    return Agreement(tuple(agree), tuple(disagree), unknown, _shares(odds))


def _shares(odds: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    weights = {way: math.log(BEFORE[way]) + odds[way] for way in BEFORE}
    most = max(weights.values())
    total = sum(math.exp(w - most) for w in weights.values())
    return tuple((way, math.exp(w - most) / total) for way, w in weights.items())


def _chance(nets: Mapping[str, str | None]) -> float:
    """How often two pins of the file, drawn blindly, share a net. [1]"""
    sizes, n = Counter(net for net in nets.values() if net is not None), len(nets)
    return sum(k * (k - 1) for k in sizes.values()) / max(n * (n - 1), 1)


def _share(nets: Mapping[str, str | None], net: str) -> float:
    return sum(found == net for found in nets.values()) / max(len(nets), 1)


@dataclass(frozen=True, slots=True)
class Compared:
    """Two lists of the pins of one board beside each other.

    Parameters
    ----------
    same, other : tuple of str
        Pins in both, on the same net and on another.
    missing : int
        Pins that only one of the two has. [1]
    """

    same: tuple[str, ...]
    other: tuple[str, ...]
    missing: int


def compared(first: Mapping[str, str | None], second: Mapping[str, str | None]) -> Compared:
    """Pins of two lists that are on nets, and whether their nets have the same pins in common.

    Names of nets differ from program to program, so each net of the first is matched with the net of the
    second that it shares most pins with.
    """
    both = [pin for pin, net in first.items() if net is not None and second.get(pin) is not None]
    shared = Counter((first[pin], second[pin]) for pin in both)
    partner: dict[str | None, str | None] = {}
    taken: set[str | None] = set()
    for (a, b), _ in sorted(shared.items(), key=lambda item: (-item[1], str(item[0]))):
        if a not in partner and b not in taken:
            partner[a] = b
            taken.add(b)
    same = tuple(pin for pin in both if partner.get(first[pin]) == second[pin])
    other = tuple(pin for pin in both if partner.get(first[pin]) != second[pin])
    joined = {pin for pin, net in (*first.items(), *second.items()) if net is not None}
    return Compared(same, other, len(joined) - len(both))
