"""Which pads to buzz next: what a map would gain by one more join, and whether that beats the other tests.

A pad of unknown net may be on ground, on a net of the map, or on something not on it yet. How likely each
is comes from what the part book's circuits have in common (an input capacitor has one end on ground, a
coil's end goes to the switch pin) and from distance. Buzzing a pad against a net tells one bit at most,
and is worth the more, the more of the present suspicion lies on that part or that net.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ohmwright.boardmap.copper import Copper, Verdict
from ohmwright.circuit import Board, Part, Pin
from ohmwright.diagnosis.answer import Diagnosis
from ohmwright.planning.advice import Advice, Outcome, Step, Test, TestKind

MINUTES = 0.15
"""Time to buzz two pads that lie on one picture. [min] common practice, no source"""
REACH_MM = 8.0
"""Distance over which neighbours tend to share a net. [mm] a guess: a switcher and its own parts"""
TELLS = 0.3
"""How much of what is learnt of a net bears on who is suspect, at the most. [1] a guess, not measured"""
UNSURE = 0.08
"""How far from certain an answer must be to be asked for among the tests. [1]"""
CLEARLY = 1.5
"""How many times more a minute of buzzing must tell before it goes first: a figure rests on guesses. [1]"""
WORTHWHILE = 0.02
"""What a join must tell where nothing else is left to try. [bit] below it the case is called undecided"""
MOST_LOOSE = 64
"""Pads of unknown net that are weighed; where there are no more, they are also held against each other. [1]"""
ELSEWHERE = 1.0
"""Weight of all that is not on the map yet, beside 1 for a net right beside the pad. [1] a guess"""
PLAIN = 0.25
"""What knowing a net is worth where no suspicion lies on it, beside where all of it does. [1] a guess"""
GROUND_SHARE: Mapping[str, float] = {
    "capacitor": 0.45, "polymer": 0.5, "resistor": 0.15, "sense": 0.3, "coil": 0.0, "ferrite": 0.03, "fuse": 0.0,
    "link": 0.05, "diode": 0.2, "schottky": 0.3, "led": 0.3, "tvs": 0.5, "tvs-two-way": 0.5, "crystal": 0.0,
    "connector": 0.35, "fet-n": 0.2, "fet-p": 0.0, "esd": 0.3,
}  # fmt: skip
"""Share of the pads of a kind that lie on ground. [1] common practice: decoupling capacitors have one end there"""
OTHER_CHIP_GROUND = 0.12
ROLE_GROUND = 0.97
FEW_PINS, NAMELESS = 9, 0.1
"""Pins of a part up to which each of them counts; and what one of more counts while it has no name. [1] a guess"""
IDLE = frozenset({"NC", "N/C", "DNC"})
"""Names of pins that are joined to nothing."""
BLOCKERS = frozenset({"capacitor", "polymer", "tvs", "tvs-two-way"})
OFFERED = 6


@dataclass(frozen=True, slots=True)
class Join:
    """Two points to hold the continuity tester against, and what that would tell.

    Parameters
    ----------
    pad, other : str
        The pad whose net is sought, and a pad of the net asked for, or the ground.
    net : str
        What that net is called.
    chance : float
        How likely it is to beep. [1]
    bits : float
        What the answer tells of the net of the pad. [bit]
    lies : float
        How much of the present suspicion lies on the part or the net. [1]
    worth : float
        By what joins are ranked: bits weighed with the suspicion, and ground before all while nobody found it. [bit]
    """

    pad: str
    other: str
    net: str
    chance: float
    bits: float
    lies: float
    worth: float
    why: str

    @property
    def told(self) -> float:
        """What it tells of the suspects, at the most. [bit]"""
        return TELLS * self.bits * self.lies

    @property
    def title(self) -> str:
        """As a test is called."""
        return f"Buzz {self.pad} and {self.other}"


def joins_to_try(board: Board, copper: Copper, diagnosis: Diagnosis | None = None) -> tuple[Join, ...]:
    """What to buzz next, best first; every pad once.

    Parameters
    ----------
    copper : Copper
        What was heard already: nothing is asked twice.
    diagnosis : Diagnosis or None
        Whom the readings suspect; None where there is none yet.
    """
    weight = _suspicion(board, diagnosis)
    known = _known_nets(board)
    tried = {frozenset((copper.node(one.a), copper.node(one.b))) for one in copper.heard}
    everywhere = [(p, q) for p in board.parts for q in p.pins if q.net not in known and q.name.upper() not in IDLE]
    short = _Short.of(copper)
    everywhere = [one for one in everywhere if not short.holds(copper, *one)]
    loose = sorted(everywhere, key=lambda one: -weight.get(one[0].name, 0.0))[:MOST_LOOSE]
    if len(loose) == len(everywhere):
        known = known | {f"the copper at {p.name}.{q.number}": ((p, q),) for p, q in loose}
    found: dict[frozenset[str], Join] = {frozenset((j.pad, j.other)): j for j in _across(board, copper, weight)}
    for part, pin in loose:
        odds = _odds(board, copper, tried, part, pin, known)
        best = _best(board, part, pin, short.left(copper, part, pin, odds), weight)
        pair = frozenset((best.pad, best.other)) if best is not None else frozenset()
        if best is not None and (pair not in found or best.worth > found[pair].worth):
            found[pair] = best
    return tuple(sorted(found.values(), key=lambda join: (-join.worth, join.pad)))


CLEAR_FIRST = 0.55
"""Worth of finding out, before anything around a capacitor is buzzed, whether its rail is short at all. [bit]"""


def _across(board: Board, copper: Copper, weight: Mapping[str, float]) -> list[Join]:
    """A capacitor from end to end, once for each that nothing is known of: a short rail beeps with everything."""
    out: list[Join] = []
    tried = {frozenset((one.a, one.b)) for one in copper.heard}
    for part, p, q in copper.walls:
        nets = board.part(part).nets if part in board.part_by_name else ("",)
        if nets or board.part(part).kind not in BLOCKERS or frozenset((p, q)) in tried or copper.shorts():
            continue
        lies = min(1.0, weight.get(part, 0.0))
        chance = min(0.5, 0.1 + lies)
        why = f"were the rail at {part} short, every pad of it would beep with ground; this tells it before"
        bits = _bits(chance)
        out.append(Join(p, q, f"the other end of {part}", chance, bits, lies, CLEAR_FIRST + 0.1 * lies, why))
    return out[:1]


@dataclass(frozen=True, slots=True)
class _Short:
    """A short that was found by buzzing across a capacitor: what lies around it no beep can tell apart."""

    ends: tuple[str, ...]

    @classmethod
    def of(cls, copper: Copper) -> _Short:
        """The ends of what beeped across."""
        return cls(tuple(end for one in copper.shorts() for end in (one.a, one.b)))

    def holds(self, copper: Copper, part: Part, pin: Pin) -> bool:
        """Whether a pad was found to beep with the short, so that only an eye can tell where it belongs."""
        if not self.ends:
            return False
        pad = f"{part.name}.{pin.number}"
        around = set(copper.pads_with(pad))
        return pad in self.ends or any(
            one.beeps and copper.verdicts[one.sequence] in (Verdict.DOUBTFUL, Verdict.HELD)
            and ((one.a in around and self._at(copper, one.b)) or (one.b in around and self._at(copper, one.a)))
            for one in copper.heard
        )  # fmt: skip

    def _at(self, copper: Copper, pad: str) -> bool:
        return any(copper.same_copper(pad, end) for end in self.ends)

    def left(self, copper: Copper, part: Part, pin: Pin, odds: Odds) -> Odds:
        """What is worth asking at a pad: first whether it beeps with the short at all; then what is off it too."""
        if not self.ends:
            return odds
        pad = f"{part.name}.{pin.number}"
        off = self._silent(copper, pad)
        if not off:
            told = {net: found for net, found in odds.items() if found[0] > 0.9}
            return told if pin.role == "GND" else {"the short": (0.5, self.ends[0])}
        return {net: found for net, found in odds.items() if not self._at(copper, found[1])}

    def _silent(self, copper: Copper, pad: str) -> bool:
        around = set(copper.pads_with(pad))
        return any(
            not one.beeps
            and ((one.a in around and self._at(copper, one.b)) or (one.b in around and self._at(copper, one.a)))
            for one in copper.heard
        )


def with_mapping(advice: Advice, board: Board, copper: Copper, diagnosis: Diagnosis, skipped: Iterable[str]) -> Advice:
    """The advice with what mapping would help, where it belongs among the other tests.

    Where nothing else is left to try and nothing is proven, mapping is what is left to do.
    """
    passed = set(skipped)
    joins = [
        join for join in joins_to_try(board, copper, diagnosis)
        if join.title not in passed and UNSURE <= join.chance <= 1.0 - UNSURE
    ]  # fmt: skip
    tests = [_as_test(join) for join in sorted(joins, key=lambda join: -join.told)[:OFFERED]]
    if not tests or (advice.stop and not advice.would_decide) or _settled(diagnosis):
        return advice
    if advice.stop:
        return replace(advice, tests=tuple(tests), stop="") if tests[0].bits > WORTHWHILE else advice
    if any(test.gate for test in advice.tests):
        return replace(advice, tests=(*advice.tests, *tests[:2]))
    first = advice.tests[0].bits / max(advice.tests[0].minutes, MINUTES) if advice.tests else 0.0
    if tests[0].bits / MINUTES > CLEARLY * first and tests[0].bits > WORTHWHILE:
        return replace(advice, tests=(tests[0], *advice.tests, *tests[1:2]))
    return replace(advice, tests=(*advice.tests, *tests[:2]))


def _settled(diagnosis: Diagnosis) -> bool:
    """Whether one part is suspected so strongly that work on it comes before drawing."""
    return bool(diagnosis.suspects) and bool(diagnosis.suspects[0].part) and diagnosis.suspects[0].probability > 0.6


def _as_test(join: Join) -> Test:
    outcomes = (
        Outcome("it beeps", join.chance, f"{join.pad} is {join.net}"),
        Outcome("silent", 1.0 - join.chance, f"{join.pad} is not {join.net}"),
    )
    step = Step("buzz", red=join.pad, black=join.other)
    return Test(TestKind.MAP, join.title, join.why, (step,), MINUTES, 0.0, join.told, 0.0, outcomes=outcomes)


def _suspicion(board: Board, diagnosis: Diagnosis | None) -> dict[str, float]:
    """How much of the belief lies on each part and each net; what is not on the map counts at its net. [1]"""
    weight: dict[str, float] = {}
    for suspect in diagnosis.suspects if diagnosis is not None else ():
        spots = {suspect.part, *suspect.where}
        for spot in tuple(spots):
            name, _, number = spot.rpartition(".")
            part = board.part_by_name.get(name)
            pins = () if part is None else part.pins
            spots |= {pin.net for pin in pins if pin.number == number and pin.net is not None}
        for spot in spots - {"", board.ground}:
            weight[spot] = weight.get(spot, 0.0) + suspect.probability
    return weight


def _known_nets(board: Board) -> dict[str, tuple[tuple[Part, Pin], ...]]:
    """Nets that more than one pad was found on, or that somebody named; and ground."""
    return {
        net: pins for net, pins in board.pins_on.items()
        if net == board.ground or len(pins) > 1 or (pins and not net.startswith("the "))
    }  # fmt: skip


Nets = Mapping[str, tuple[tuple[Part, Pin], ...]]
"""For each net that may be asked for, the pads it has."""
Odds = dict[str, tuple[float, str]]
"""For each net that may be asked for: how likely it is, and a pad of it to hold the probe on."""


def _odds(board: Board, copper: Copper, tried: set[frozenset[str]], part: Part, pin: Pin, known: Nets) -> Odds:
    here = f"{part.name}.{pin.number}"
    others = {p.net for p in part.pins if p.number != pin.number and p.net is not None}
    ground = _ground_share(board, part, pin, others)
    weights: dict[str, tuple[float, str]] = {}
    for net, pins in known.items():
        if net == board.ground or not pins or (len(part.pins) == 2 and net in others) or pins[0][0] is part:
            continue
        near, spot = _nearest(part, pins)
        weights[net] = (_fit(part, pin, pins) * math.exp(-near / REACH_MM), spot)
    total = sum(w for w, _ in weights.values()) + ELSEWHERE
    odds = {net: ((1.0 - ground) * w / total, spot) for net, (w, spot) in weights.items()}
    if ground > 0.0:
        odds[board.ground] = (ground, board.ground)
    node = copper.node(here)
    return {net: found for net, found in odds.items() if frozenset((node, copper.node(found[1]))) not in tried}


def _ground_share(board: Board, part: Part, pin: Pin, others: set[str]) -> float:
    if pin.role == "GND" or pin.name.upper() in ("GND", "AGND", "PGND", "VSS", "EP", "0V"):
        return ROLE_GROUND
    if pin.role or (pin.name and pin.name.upper() != "NC"):
        return 0.02
    if len(part.pins) == 2 and board.ground in others:
        return 0.0
    share = GROUND_SHARE.get(part.kind, OTHER_CHIP_GROUND)
    if part.kind in BLOCKERS and others:
        return 0.85  # its other end is on something else than ground
    return share


def _fit(part: Part, pin: Pin, pins: tuple[tuple[Part, Pin], ...]) -> float:
    """How well a pin goes with what is on a net already. [1]"""
    kinds = {p.kind for p, _ in pins}
    roles = {q.role for _, q in pins if q.role}
    if part.kind == "coil":
        return 3.0 if "SW" in roles else 2.0 if kinds & {"capacitor", "polymer"} else 0.5
    if pin.role == "SW":
        return 4.0 if "coil" in kinds else 0.2
    if pin.role in ("VIN", "OUT", "VDD"):
        return 2.0 if kinds & {"capacitor", "polymer"} else 0.7
    if part.kind in BLOCKERS:
        return 2.0 if roles & {"VIN", "OUT", "VDD"} or ("coil" in kinds and "SW" not in roles) else 1.0
    return 1.0


def _nearest(part: Part, pins: tuple[tuple[Part, Pin], ...]) -> tuple[float, str]:
    """Distance to the nearest part of a net, and its pad. [mm]"""
    best, spot = math.inf, ""
    for other, pin in pins:
        far = 2.0 * REACH_MM
        if part.place is not None and other.place is not None:
            far = math.dist((part.place.x_mm, part.place.y_mm), (other.place.x_mm, other.place.y_mm))
        if far < best and other.name != part.name:
            best, spot = far, f"{other.name}.{pin.number}"
    return (best, spot) if spot else (4.0 * REACH_MM, f"{pins[0][0].name}.{pins[0][1].number}")


def _best(board: Board, part: Part, pin: Pin, odds: Odds, weight: Mapping[str, float]) -> Join | None:
    """The net worth asking for first at one pad."""
    best: Join | None = None
    here = f"{part.name}.{pin.number}"
    # Until somebody found ground nothing can be read against it: the likeliest pad comes first.
    lost = not board.pins_on[board.ground]
    # One of the many pins of a chip nobody looked up says next to nothing of who is to blame.
    share = 1.0 if len(part.pins) <= FEW_PINS or pin.role or pin.name else NAMELESS
    for net, (chance, spot) in odds.items():
        bits = share * _bits(chance)
        lies = share * min(1.0, weight.get(part.name, 0.0) + weight.get(net, 0.0))
        worth = 1.0 + chance if lost and net == board.ground else bits * (PLAIN + (1.0 - PLAIN) * lies)
        if spot != here and (best is None or worth > best.worth):
            why = FIND_GROUND if lost and net == board.ground else _why(part, pin, net, chance, lies)
            best = Join(here, spot, net, chance, bits, lies, worth, why)
    return best


FIND_GROUND = (
    "ground is what nearly every reading is taken against: hold the other probe on a connector's shell or a screw hole"
)


def _why(part: Part, pin: Pin, net: str, chance: float, lies: float) -> str:
    what = f"pin {pin.number} of {part.name}" if len(part.pins) > 2 else f"this end of the {part.kind} {part.name}"
    named = f"{what}{f' ({pin.name or pin.role})' if pin.name or pin.role else ''}"
    often = f"is on {net} about {round(10 * chance)} times in 10" if chance >= 0.15 else f"may be on {net}"
    reason = f"{lies:.0%} of the suspicion lies there" if lies > 0.05 else "its net is not known yet"
    return f"{named} {often}; {reason}"


def _bits(chance: float) -> float:
    if not 0.0 < chance < 1.0:
        return 0.0
    return -chance * math.log2(chance) - (1.0 - chance) * math.log2(1.0 - chance)
