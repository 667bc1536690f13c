"""One meter before one camera for many readings: the same display in the same room, as it is at a bench.

The camera stands still but for its trembling, and is knocked once in a hundred readings; glare wanders as a hand or a
lamp moves, and the camera's exposure with it. Three modes of the meter are used in turn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from tests.displays.rendered import QUANTITIES, Panel, Shown, drawn, panel, shown
from tests.displays.room import Light, light, photographed

CONDITIONS = {"mild": 0.35, "middling": 0.7, "harsh": 1.0}
"""What the troubles of the room and the camera are scaled with; 1 is what single displays are judged at. [1]"""
KNOCKED = 0.01
"""Share of readings before which the camera is knocked. [1]"""


@dataclass(frozen=True, slots=True)
class Look:
    """One reading: what the display says, and the pictures of it with the corners as they were marked at first."""

    truth: Shown
    frames: tuple[tuple[np.ndarray, np.ndarray], ...]


def sitting(seed: int, condition: str, *, apart: bool, readings: int, frames: int = 5) -> Iterator[Look]:
    """A meter by chance in a room by chance; in a fifth of the readings the first frames show the one before."""
    rng = np.random.default_rng([20_262, int(apart), list(CONDITIONS).index(condition), seed])
    look = panel(rng, apart=apart)
    base = light(rng, CONDITIONS[condition])
    modes = [QUANTITIES[int(k)] for k in rng.choice(len(QUANTITIES), 3, replace=False)]
    marked: np.ndarray | None = None
    for _ in range(readings):
        truth = _of_mode(rng, look, modes[int(rng.integers(3))])
        if rng.random() < KNOCKED:
            base = replace(base, tilt=tuple(base.tilt + rng.normal(0, 0.006, 8)), turn=base.turn + rng.normal(0, 0.4))
        how = _trembling(base, rng)
        before = _of_mode(rng, look, (truth.unit, truth.words))
        ghosts = [float(rng.uniform(0.15, 0.85)), float(rng.uniform(0, 0.3))] if rng.random() < 0.2 else []
        ink, older = drawn(look, truth), drawn(look, before) if ghosts else None
        pictures = []
        for k in range(frames):
            one = replace(how, old=ghosts[k] if k < len(ghosts) else 0.0)
            picture, corners = photographed(ink, look, one, rng, older)
            marked = corners if marked is None else marked
            pictures.append((picture, marked))
        yield Look(truth, tuple(pictures))


def _trembling(base: Light, rng: np.random.Generator) -> Light:
    """The same room a little later."""
    return replace(
        base,
        bright=base.bright * float(rng.uniform(0.92, 1.08)),
        glare=base.glare * float(rng.uniform(0.7, 1.3)),
        glare_at=tuple(v + float(rng.normal(0, 0.03)) for v in base.glare_at),
        tilt=tuple(v + float(rng.normal(0, 0.001)) for v in base.tilt),
    )


def _of_mode(rng: np.random.Generator, look: Panel, mode: tuple[str, tuple[str, ...]]) -> Shown:
    while True:
        one = shown(rng, look.places)
        if (one.unit, one.words) == mode:
            return one
