"""The board, the facts and the meter that candidates are made from, and where to put a probe."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from ohmwright.circuit import Board, BoardState, ElementKind, Part
from ohmwright.devices import METAL
from ohmwright.diagnosis import Posterior
from ohmwright.facts import HANDHELD, Facts, Meter
from ohmwright.faults import Defect, DefectKind
from ohmwright.planning.advice import Step

SERIES = METAL | {"resistor", "unknown-two-pads"}
"""Kinds that carry current from one net to another."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What the candidates are made from."""

    posterior: Posterior
    board: Board
    facts: Facts
    meter: Meter

    @property
    def state(self) -> BoardState:
        """How the board stands now, unfed."""
        return self.facts.state.unfed

    def quiet(self) -> tuple[Step, ...]:
        """Steps that make the board safe for ohms, diode mode or work."""
        steps: tuple[Step, ...] = ()
        if self.facts.state.feed is not None:
            steps += (Step("feed off"),)
        if self.facts.state.feed is not None or not self.facts.discharged:
            steps += (Step("discharge"),)
        return steps


def mass_by_net(posterior: Posterior, counted: Callable[[Defect], bool] = bool) -> dict[str, float]:
    """How much belief lies at each net: the nets of every defect that counts, weighed."""
    mass = dict.fromkeys(posterior.board.net_by_name, 0.0)
    for p, defect in zip(posterior.by_defect.tolist(), posterior.roster.defects, strict=True):
        if counted(defect):
            for net in defect.nets:
                mass[net] += p
    return mass


def scene_of(posterior: Posterior) -> Scene:
    """The scene of a case, with the meter used last."""
    readings = posterior.facts.readings
    meter = next((r.meter for r in reversed(readings) if r.meter.name and r.value is not None), HANDHELD)
    return Scene(posterior, posterior.board, posterior.facts, meter)


def forward_of(posterior: Posterior, defect: Defect) -> tuple[str, str] | None:
    """Nets from which to which a junction would conduct that a defect has opened; None for any other defect.

    On ohms a sound junction and an open one may look alike, as the meter's volts there may open neither.
    """
    wiring = posterior.electrical.forward.wiring
    at = wiring.index_of.get((defect.part, defect.label))
    if defect.kind is not DefectKind.OPEN or defect.pin or at is None:
        return None
    element = wiring.elements[at]
    return (element.a, element.b) if element.kind is ElementKind.JUNCTION else None


def same_circuit(one: BoardState, other: BoardState) -> bool:
    """Whether two states differ in nothing but the feed."""
    return one.unfed == other.unfed


def point(scene: Scene, net: str, without: Collection[str] = ()) -> str:
    """Where to put a probe on a net: the pad of a two-pad part where there is one, else any pad.

    Parameters
    ----------
    without : collection of str
        Parts that will be off by then.
    """
    board = scene.board
    if net == board.ground:
        return net
    off = scene.state.off.union(without)
    pins = [(part, pin) for part, pin in board.pins_on[net] if part.name not in off]
    for wanted in (("capacitor", "polymer"), SERIES):
        for part, pin in pins:
            if part.kind in wanted:
                return f"{part.name}.{pin.number}"
    return f"{pins[0][0].name}.{pins[0][1].number}" if pins else net


def pad_of(part: Part, net: str) -> str:
    """The first pad of a part on one of its nets."""
    return next(f"{part.name}.{pin.number}" for pin in part.pins if pin.net == net)


def at(scene: Scene, net: str) -> str:
    """A net with the pad to touch, in words."""
    pad = point(scene, net)
    return net if pad == net else f"{net} (at {pad})"
