"""Every single defect a board may have, with its prior, and pairs grown from the likeliest singles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from ohmwright.circuit import Board, Element, ElementKind, Part
from ohmwright.devices import KINDS, METAL, FaultMode, Mode, could_be, neighbouring
from ohmwright.facts import Symptom
from ohmwright.faults.hypothesis import AS_BUILT, NOTHING, Defect, DefectKind, Hypothesis
from ohmwright.faults.severity import (
    ADDED,
    AS_LINK,
    AS_RESISTOR,
    BINS,
    BRIDGES,
    CUT_OFF,
    DRIFTS,
    FAR,
    LOOSENED,
    OPENED,
    SOFT,
    Severity,
)

SAME_RAIL = 4.0
"""How much likelier a second fault is on the rail of the first: overvoltage and liquid harm both; estimate."""
JOINT_SHARE = 0.3
"""How often an open part is only a bad joint; estimate."""
AS_PATH = METAL | {"resistor"}
"""Kinds of which a part of unknown kind is a hypothesis of its own, as a path."""
ACROSS_RAIL = 0.15
"""How much rarer resistors and beads are from a rail to ground than elsewhere among unmarked parts; estimate."""
USUAL_VOLTS, WASTED = 3.3, 0.1
"""Volts of a net nobody has told, and watts that no designer puts into an unmarked part for nothing."""
GONE = 1e10
"""What is left of a junction that does not conduct any more. [Ω]"""
OPEN_SHARE = 0.2
"""Share of opens, joints and drifts among the faults of mapped parts, at least; estimate after handbook shares, which
disagree."""
BRIDGED = 0.06
"""Bridges and residue between neighbouring pins against all other faults of mapped parts; estimate."""
INSIDE, SOLDER, RESIDUE = 0.35, 0.25, 0.4
"""How many of the paths between neighbouring pins are damage inside the part, which stays when it is cleaned; solder,
which goes with the part as well; and residue between the pads, which cleaning alone takes away; estimates."""
CURES = ((False, False, INSIDE), (True, False, SOLDER), (True, True, RESIDUE))
"""Whether it is in the solder and whether it is residue, each with its share."""
LOOSE_PINS, BROKEN_INSIDE = 0.05, 0.15
"""Single pins without contact against all other faults of mapped parts, and how many of them are broken inside the part
instead of at the solder; estimates."""
CLAMPS, CHIPS = {"tvs", "tvs-two-way", "esd", "diode", "schottky", "polymer"}, {"ic", "charger", "buck", "load-switch"}
SOFTENS = frozenset(CLAMPS | CHIPS)
ONE_WAY, ONE_WAY_SOURCE = 0.2, "estimate: clamps and polymer capacitors that go bad conduct one way before both"
"""Kinds with a junction from a pin to ground that may go soft, and paths that conduct one way only against leaks of the
same pins. [1] estimate"""
LEAKS, OF_JUNCTIONS = 0.3, 0.5
"""Leaks among paths through what nobody has drawn, and how much of that has a junction to ground; estimates. [1]"""
DIRT_SHARE = 0.4
"""How often a path through something not on the map is dirt or a bridge that cleaning takes away; estimate."""


@dataclass(frozen=True, slots=True)
class Prior:
    """Weights of what may be wrong before anything is measured. All may be replaced by a shop's own.

    Parameters
    ----------
    nothing : float
        That the board is sound. [1]
    unmapped : float
        That the fault is at something not on the map, at least. [1]
    second : float
        That one fault comes with another. [1]
    rates : mapping
        Kind of part to how often it is the culprit, in place of the catalogue's.
    """

    nothing: float = 0.05
    unmapped: float = 0.03
    second: float = 0.04
    rates: Mapping[str, float] = field(default_factory=dict)
    source: str = "estimates for dead boards, to be replaced by the shop's own jobs"


def hypotheses_of(
    board: Board, prior: Prior | None = None, symptom: Symptom = Symptom.UNKNOWN
) -> tuple[Hypothesis, ...]:
    """All single hypotheses of a board, their priors summing to one.

    Parameters
    ----------
    board : Board
    prior : Prior, optional
    symptom : Symptom
        What the board does, which shifts weight between shorts, opens and "nothing wrong".
    """
    prior = prior or Prior()
    mapped = [h for part in board.parts for h in _of_part(board, part, prior)]
    hidden = list(_unmapped(board))
    share = max(prior.unmapped, min(0.9, 0.6 * board.unmapped_share))
    bridges = list(_bridges(board, mapped))
    scale = _class_scale(mapped)
    weights = [(h, h.prior * scale[_is_path(h)] * _leaning(h, symptom)) for h in mapped]
    usual = sum(weight for _, weight in weights)
    for rarer, share in ((bridges, BRIDGED), (list(_loose_pins(board)), LOOSE_PINS)):
        scaled = share * usual / max(sum(h.prior for h in rarer), 1e-12)
        weights += [(h, h.prior * scaled * _leaning(h, symptom)) for h in rarer]
    total = sum(weight for _, weight in weights) or 1.0
    hidden_total = sum(h.prior for h in hidden) or 1.0
    nothing = prior.nothing * (0.2 if symptom is Symptom.DRAWS_LIMIT else 1.0)
    rest = 1.0 - nothing - share
    return (
        Hypothesis((), nothing, NOTHING.source),
        *(h for part in board.parts for h in _as_built(board, part, nothing)),
        *(Hypothesis(h.defects, weight / total * rest, h.source) for h, weight in weights if weight > 0.0),
        *(Hypothesis(h.defects, h.prior / hidden_total * share, h.source) for h in hidden),
    )


def _is_path(hypothesis: Hypothesis) -> bool:
    return hypothesis.defects[0].kind is DefectKind.PATH


def _class_scale(mapped: Iterable[Hypothesis]) -> dict[bool, float]:
    """Factors that give opens, joints and drifts together their usual share, however many parts can only short."""
    total = {True: 0.0, False: 0.0}
    for hypothesis in mapped:
        total[_is_path(hypothesis)] += hypothesis.prior
    both = total[True] + total[False]
    if min(total.values()) <= 0.0 or total[False] >= OPEN_SHARE * both:
        return {True: 1.0, False: 1.0}
    return {True: (1.0 - OPEN_SHARE) * both / total[True], False: OPEN_SHARE * both / total[False]}


def _bridges(board: Board, mapped: Iterable[Hypothesis]) -> Iterator[Hypothesis]:
    """Solder or residue between neighbouring pins of a part, or damage inside it, where no other mode joins the two.

    Cleaning takes away what lies between the pins; what it does not take away is inside. Taking the part off takes
    solder with it, not residue.
    """
    known = {(d.part, frozenset(d.nets)) for h in mapped for d in h.defects if d.kind is DefectKind.PATH}
    for part in board.parts:
        for one, other in neighbouring(part):
            nets = (one.net or "", other.net or "")
            if (part.name, frozenset(nets)) in known:
                continue
            where = (f"{part.name}.{one.number}", f"{part.name}.{other.number}")
            label = f"between neighbouring pins {one.number} and {other.number}"
            for joint, residue, share in CURES:
                for grade in BRIDGES:
                    defect = Defect(
                        DefectKind.PATH, part.name, grade.mode, where, nets, label, grade, joint, residue=residue
                    )
                    yield Hypothesis((defect,), share * grade.share, "between neighbouring pins; estimate")


def _loose_pins(board: Board) -> Iterator[Hypothesis]:
    """A pin of a part of three or more that touches its pad no more, where nothing else of the part is on that net."""
    for part in board.parts:
        if len(part.pins) < 3:
            continue
        joined = {net for e in KINDS[part.kind].elements(part) for net in (e.a, e.b)}
        count = Counter(pin.net for pin in part.pins)
        for pin in part.pins:
            if pin.net is None or pin.net not in joined or count[pin.net] > 1:
                continue
            elsewhere = [p for p in part.pins if p.net not in (None, pin.net)]
            other = next((p for p in elsewhere if p.net == board.ground), elsewhere[0])
            where = (f"{part.name}.{pin.number}", f"{part.name}.{other.number}")
            nets = (pin.net, other.net or "")
            for joint, share, grades in ((True, 1.0 - BROKEN_INSIDE, CUT_OFF), (False, BROKEN_INSIDE, CUT_OFF[-1:])):
                for grade in grades:
                    defect = Defect(
                        DefectKind.OPEN, part.name, "open", where, nets, f"pin {pin.number}", grade, joint, pin.number
                    )
                    weight = share * grade.share / sum(g.share for g in grades)
                    yield Hypothesis((defect,), weight, "cracked joints of parts with many pins; estimate")


def pairs_with(first: Iterable[Hypothesis], singles: Iterable[Hypothesis], second: float) -> tuple[Hypothesis, ...]:
    """Each of the first joined with each single defect at another place.

    Parameters
    ----------
    first, singles : iterable of Hypothesis
    second : float
        Prior that one fault comes with another. [1]
    """
    found: dict[frozenset[Defect], Hypothesis] = {}
    singles = [h for h in singles if len(h.defects) == 1]
    for base in first:
        for other in singles:
            defects = frozenset((*base.defects, *other.defects))
            if len(defects) <= len(base.defects) or _same_spot(base, other):
                continue
            near = SAME_RAIL if _share_a_rail(base, other) else 1.0
            prior = min(near * second * base.prior * other.prior, base.prior)
            found.setdefault(defects, Hypothesis((*base.defects, *other.defects), prior, "two at once"))
    return tuple(found.values())


def _share_a_rail(base: Hypothesis, other: Hypothesis) -> bool:
    """Whether both join the same pair of nets."""
    pair = frozenset(other.defects[0].nets)
    return any(frozenset(defect.nets) == pair for defect in base.defects)


def _same_spot(base: Hypothesis, other: Hypothesis) -> bool:
    """Two defects of one part at one place are one defect."""
    return any(defect.part == other.defects[0].part and defect.part for defect in base.defects)


def _of_part(board: Board, part: Part, prior: Prior) -> Iterator[Hypothesis]:
    kind = KINDS[part.kind]
    rate = prior.rates.get(part.kind, kind.rate) * part.weight
    for mode in kind.modes(part):
        nets = _nets_of(part, mode)
        if nets is None or rate * mode.share <= 0.0:
            continue
        where = tuple(f"{part.name}.{number}" for number in mode.pins)
        element = next((e for e in kind.elements(part) if e.label == mode.label), None)
        for kind_of_defect, severity, share, joint in _severities(mode.mode, element):
            for soldered, residue, cured in CURES if mode.between else ((joint, False, 1.0),):
                defect = Defect(
                    kind_of_defect, part.name, mode.mode.value, where, nets, mode.label, severity, soldered,
                    residue=residue,
                )  # fmt: skip
                yield Hypothesis((defect,), rate * mode.share * share * cured, kind.rate_source)
        if mode.mode is Mode.LEAK and part.kind in SOFTENS and board.ground in nets and not mode.between:
            for one in _one_way(board, part, mode, nets):
                yield Hypothesis((one,), rate * mode.share * ONE_WAY * (one.severity or SOFT[0]).share, ONE_WAY_SOURCE)


def _one_way(board: Board, part: Part, mode: FaultMode, nets: tuple[str, str]) -> Iterator[Defect]:
    """A path from a pin to ground that a junction of the part has become: it does not show the other way round."""
    live = nets[1] if nets[0] == board.ground else nets[0]
    where = tuple(f"{part.name}.{number}" for number in mode.pins)
    for grade in SOFT:
        yield Defect(
            DefectKind.PATH, part.name, mode.mode.value, where, (live, board.ground), mode.label, grade, one_way=True
        )


def _severities(mode: Mode, element: Element | None) -> Iterator[tuple[DefectKind, Severity | None, float, bool]]:
    """How bad a mode may be, each with its share; opens and drifts only of an element that is there."""
    if mode in (Mode.OPEN, Mode.DRIFT) and element is None:
        return
    if mode is Mode.OPEN:
        for joint, share, grades in ((False, 1.0 - JOINT_SHARE, OPENED), (True, JOINT_SHARE, LOOSENED)):
            fit = [grade for grade in grades if _is_open(grade, element)] or [grades[-1]]
            short_of = sum(grade.share for grade in grades if joint and grade not in fit and _adds(grade, element))
            total = sum(grade.share for grade in fit) + short_of
            for grade in fit:
                yield DefectKind.OPEN, grade, share * grade.share / total, joint
            for grade in ADDED if short_of else ():
                yield DefectKind.DRIFT, grade, share * short_of * grade.share / total, joint
    elif mode is Mode.DRIFT:
        for severity in DRIFTS:
            yield DefectKind.DRIFT, severity, severity.share, False
    else:
        for severity in BINS:
            if severity.mode == mode.value:
                yield DefectKind.PATH, severity, severity.share, False


def _as_built(board: Board, part: Part, nothing: float) -> Iterator[Hypothesis]:
    """What a part of unknown kind may be, instead of what it is first taken for, with nothing wrong."""
    if part.kind != "unknown-two-pads" or len(part.nets) != 2:
        return
    (_, first), *others = could_be(part)
    where = tuple(f"{part.name}.{pin.number}" for pin in part.pins)
    for kind, share in others:
        for grade in AS_RESISTOR if kind == "resistor" else AS_LINK if kind in METAL else ():
            defect = Defect(DefectKind.PATH, part.name, AS_BUILT, where, part.nets, kind, grade)
            weight = share / first * grade.share * _sensible(board, part, grade)
            yield Hypothesis((defect,), nothing * weight, "what unmarked parts usually are")


def _sensible(board: Board, part: Part, grade: Severity) -> float:
    """Whether anybody would build that in: from a rail to ground hardly ever, and nothing that wastes power."""
    if board.ground not in part.nets:
        return 1.0
    net = board.net(part.nets[0] if part.nets[1] == board.ground else part.nets[1])
    wasted = (net.nominal or USUAL_VOLTS) ** 2 / grade.median
    return (ACROSS_RAIL if net.rail or net.nominal else 1.0) * (0.02 if wasted > WASTED else 1.0)


def _is_open(grade: Severity, element: Element | None) -> bool:
    if element is None or element.kind is not ElementKind.RESISTIVE:
        return grade.high >= GONE
    return grade.low > FAR * element.median


def _adds(grade: Severity, element: Element | None) -> bool:
    """Whether a loose joint of that grade shows beside the element's own resistance."""
    if element is None or element.kind is not ElementKind.RESISTIVE:
        return False
    return grade.high > (ADDED[0].low - 1.0) * element.median


def _nets_of(part: Part, mode: FaultMode) -> tuple[str, str] | None:
    a, b = (part.pin(number).net for number in mode.pins)
    return None if a is None or b is None or a == b else (a, b)


def _unmapped(board: Board) -> Iterator[Hypothesis]:
    """A path to ground from any net through something that nobody has drawn."""
    for net in board.nets:
        if net.name == board.ground or not board.pins_on[net.name]:
            continue
        pads = net.unexplained_pads or min(len(board.pins_on[net.name]), 12) * 0.2
        for severity in BINS:
            mode_share = 1.0 - LEAKS if severity.mode == "short" else LEAKS
            for dirt, share in ((False, 1.0 - DIRT_SHARE), (True, DIRT_SHARE)):
                defect = Defect(
                    DefectKind.PATH, "", severity.mode, (net.name,), (net.name, board.ground), "", severity, dirt
                )
                weight = pads * mode_share * severity.share * share
                yield Hypothesis((defect,), weight, "share of pads no part of the map explains")
        for grade in SOFT:
            where, nets = (net.name,), (net.name, board.ground)
            soft = Defect(DefectKind.PATH, "", grade.mode, where, nets, "", grade, one_way=True)
            yield Hypothesis((soft,), pads * LEAKS * ONE_WAY * OF_JUNCTIONS * grade.share, ONE_WAY_SOURCE)


def _leaning(hypothesis: Hypothesis, symptom: Symptom) -> float:
    path = hypothesis.defects[0].kind is DefectKind.PATH
    if symptom is Symptom.DRAWS_LIMIT:
        return 1.0 if path else 0.15
    if symptom is Symptom.DRAWS_NOTHING:
        return 0.35 if path else 1.5
    return 1.0
