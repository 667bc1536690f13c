"""A reading that the likeliest explanation calls a slip is taken again before anything is built on it."""

from __future__ import annotations

import numpy as np

from ohmwright.evidence import Line
from ohmwright.facts import FED, LOOSE, Quantity
from ohmwright.planning import costs
from ohmwright.planning.advice import Outcome, Step, Test, TestKind
from ohmwright.planning.candidates import Candidate
from ohmwright.planning.cautions import cautions_for
from ohmwright.planning.scene import Scene, same_circuit

SLIP = 0.5
"""Chance of a slip above which a reading is taken again. [1]"""


def retake(scene: Scene) -> Test | None:
    """The doubtful reading once more; None where there is none, or where it was taken twice already."""
    posterior = scene.posterior
    if not posterior.lines:
        return None
    stray = posterior.joint.stray[:, posterior.class_of] @ posterior.probabilities
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
    same = [
        other
        for other in scene.posterior.lines
        if other.probe == line.probe and same_circuit(other.reading.state, scene.state)
    ]
    return len(same) == 1


def _test(scene: Scene, line: Line, stray: float) -> Test:
    reading = line.reading
    ohms = reading.quantity is Quantity.OHMS
    kind = TestKind.OHMS if ohms else TestKind.DIODE
    minutes = costs.OHMS if ohms else costs.PROBE
    steps = (*scene.quiet(), Step("read", reading.quantity.value, reading.red, reading.black))
    title = f"Read again: {kind.value}, red on {reading.red}, black on {reading.black}, on clean solder"
    candidate = Candidate(kind, title, steps, minutes, 0.0, reading)
    return Test(
        candidate.kind,
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
        cautions_for(scene.board, candidate.kind, steps),
    )
