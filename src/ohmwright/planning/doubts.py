"""A reading that the likeliest explanation calls a slip is taken again before anything is built on it."""

from __future__ import annotations

import numpy as np

from ohmwright.diagnosis.joined import HIDDEN, may_be_joined, read_across
from ohmwright.evidence import Line
from ohmwright.evidence.electrical import STRAY
from ohmwright.facts import FED, LOOSE, Quantity
from ohmwright.operation import coil_missing
from ohmwright.planning import costs
from ohmwright.planning.advice import Outcome, Step, Test, TestKind
from ohmwright.planning.cautions import cautions_for
from ohmwright.planning.scene import Scene, at, mass_by_net, point, same_circuit

BLAMED = 0.5
"""Belief in something off the map from which the other rails are compared. [1]"""
MOST_COMPARED = 8
SUSPECTED = 0.1
"""Belief in a fault at a net from which it is asked whether the net goes on behind something off the map. [1]"""
ONE_AT_DC = "Both read the same to ground: something off the map, such as a coil or a bead, may make them one at DC."
SLIP = 0.4
"""Chance of a slip of the hand above which a reading is taken again. [1]"""


def retake(scene: Scene) -> Test | None:
    """The doubtful reading once more; None where there is none, or where it was taken twice already."""
    posterior = scene.posterior
    if not posterior.lines:
        return None
    stray = posterior.joint.stray[:, posterior.class_of] @ posterior.probabilities
    # Where much is not on the map a reading off the mark is sooner the map's fault than the hand's.
    odd = posterior.electrical.stray
    prior = np.array([max(odd(line), odd(line, line.reading)) for line in posterior.lines])
    stray = stray * np.minimum(STRAY / prior, 1.0)
    for k in np.argsort(-stray, kind="stable").tolist():
        line = posterior.lines[k]
        if stray[k] < SLIP:
            return None
        if _can_be_retaken(scene, line):
            return _test(scene, line, float(stray[k]))
    return None


def _can_be_retaken(scene: Scene, line: Line) -> bool:
    if line.reading.quantity in FED | LOOSE or not same_circuit(line.reading.state, scene.state):
        return False
    board, mine = scene.board, frozenset((line.probe.red, line.probe.black))
    same = [
        other
        for other in scene.facts.readings
        if other.quantity is line.reading.quantity
        and frozenset((board.net_at(other.red), board.net_at(other.black))) == mine
        and same_circuit(other.state, scene.state)
    ]
    return len(same) == 1


def _test(scene: Scene, line: Line, stray: float) -> Test:
    reading = line.reading
    ohms = reading.quantity is Quantity.OHMS
    kind = TestKind.OHMS if ohms else TestKind.DIODE
    minutes = costs.OHMS if ohms else costs.PROBE
    steps = (*scene.quiet(), Step("read", reading.quantity.value, reading.red, reading.black))
    title = f"Read again: {kind.value}, red on {reading.red}, black on {reading.black}, on clean solder"
    return Test(
        kind,
        title,
        "This reading does not fit the likeliest explanation: either the probe slipped, or the explanation is wrong.",
        steps,
        minutes,
        0.0,
        float(-stray * np.log2(stray) - (1.0 - stray) * np.log2(max(1.0 - stray, 1e-12))) + 0.05,
        0.0,
        (),
        (
            Outcome("another value", stray, "the first was a slip, and is taken back"),
            Outcome("the same again", 1.0 - stray, "it was no slip; the explanation has to change"),
        ),
        cautions_for(scene.board, kind, steps),
    )


def rails_to_compare(scene: Scene) -> list[Test]:
    """Rails nobody has read yet, while the belief is that something off the map loads one of them.

    What is not on the map may be the coil between two rails: then the fault may sit on the other one. Behind a switch
    node without a coil there is one for certain.
    """
    posterior, board = scene.posterior, scene.board
    if board.unmapped_share < HIDDEN:
        return []
    bare = {net.name for net in board.nets if coil_missing(board, net.name)}
    beyond = [
        k
        for k, d in enumerate(posterior.roster.defects)
        if not d.harmless and (not d.part or (board.ground in d.nets and bare.intersection(d.nets)))
    ]
    if float(posterior.by_defect[beyond].sum()) < BLAMED:
        return []
    read = {board.net_at(point) for line in posterior.lines for point in (line.reading.red, line.reading.black)}
    caps = {
        net.name: sum(part.kind in ("capacitor", "polymer") for part, _ in board.pins_on[net.name])
        for net in board.nets
        if net.name not in read and net.name != board.ground
    }
    nets = [n for n in sorted(caps, key=lambda n: (-caps[n], n)) if caps[n] > 1 or board.net(n).rail]
    return [_compare(scene, net) for net in nets[:MOST_COMPARED]]


def links_to_check(scene: Scene) -> list[Test]:
    """Straight across two nets that read the same to ground, while suspicion lies on one of them.

    A coil or a bead that nobody has drawn makes two nets one at DC, and then a fault on one shows on both.
    """
    posterior, board = scene.posterior, scene.board
    on = mass_by_net(posterior, lambda defect: not defect.harmless)
    pairs = [pair for pair in may_be_joined(board, scene.facts) if max(on[net] for net in pair) > SUSPECTED]
    return [_across_both(scene, *pair) for pair in sorted(pairs, key=lambda pair: -max(on[net] for net in pair))]


def guesses_to_check(scene: Scene) -> list[Test]:
    """Straight across unmarked parts at a net for which something off the map is blamed.

    What they are was only guessed. One that is metal makes both its nets one at DC, and what is blamed may lie on
    either.
    """
    posterior, board = scene.posterior, scene.board
    blamed = mass_by_net(posterior, lambda defect: not defect.part)
    unmarked = {
        (min(defect.nets), max(defect.nets))
        for defect in posterior.roster.defects
        if defect.harmless and board.ground not in defect.nets and defect.part not in scene.state.off
    }
    read = read_across(board, scene.facts)
    blame = {pair: max(blamed[net] for net in pair) for pair in unmarked if pair not in read}
    asked = sorted((pair for pair in blame if blame[pair] > BLAMED), key=lambda pair: (-blame[pair], pair))
    why = "What lies between was only guessed. If it is metal, what is wrong may be on either side of it."
    return [_across_both(scene, *pair, why) for pair in asked]


def _across_both(scene: Scene, a: str, b: str, why: str = ONE_AT_DC) -> Test:
    steps = (*scene.quiet(), Step("read", Quantity.OHMS.value, point(scene, a), point(scene, b)))
    title = f"Ohms between {at(scene, a)} and {at(scene, b)}"
    outcomes = (Outcome("next to nothing", 0.6, "they are one at DC"), Outcome("more", 0.4, "they are two rails"))
    cautions = cautions_for(scene.board, TestKind.PAIR, steps)
    return Test(TestKind.PAIR, title, why, steps, costs.PAIR, 0.0, 0.5, 0.0, (), outcomes, cautions)


def _compare(scene: Scene, net: str) -> Test:
    steps = (*scene.quiet(), Step("read", Quantity.OHMS.value, point(scene, net), scene.board.ground))
    why = "Something off the map may join it to the rail that is low: then it reads the same, and may carry the fault."
    title = f"Compare ohms, from {at(scene, net)} to {scene.board.ground}"
    outcomes = (Outcome("the same few ohms", 0.3, "the two are one at DC"), Outcome("much more", 0.7, "it is apart"))
    cautions = cautions_for(scene.board, TestKind.OHMS, steps)
    return Test(TestKind.OHMS, title, why, steps, costs.OHMS, 0.0, 0.05, 0.0, (), outcomes, cautions)
