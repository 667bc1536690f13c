"""What can be done with eyes, iron and solvent: looks, removals, new parts, reflow and cleaning."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from ohmwright.facts import Quantity
from ohmwright.planning import costs
from ohmwright.planning.advice import Step, TestKind
from ohmwright.planning.candidates import Candidate
from ohmwright.planning.scene import Scene, at, point, same_circuit

MOST_REMOVALS = 10
MOST_LOOSE = 3
"""Pairs of pins at which a part is read by itself once it is off. [1]"""


def look(scene: Scene, parts: Sequence[str]) -> Candidate | None:
    """Look at the leading suspects not looked at yet."""
    seen = {part for look in scene.facts.looks for part in look.parts}
    fresh = tuple(part for part in parts if part and part not in seen)[:8]
    if not fresh:
        return None
    title = f"Look closely at {', '.join(fresh)}: cracks, burns, corrosion"
    return Candidate(TestKind.LOOK, title, (*scene.quiet(), Step("look", parts=fresh)), costs.LOOK, 0.0, None, fresh)


class Path(NamedTuple):
    """Two pins of a part (``PART.PIN``) that may conduct too much or too little, their nets, and how they are read."""

    red_pin: str
    black_pin: str
    red: str
    black: str
    quantity: Quantity = Quantity.OHMS

    @property
    def by_itself(self) -> Quantity:
        """How they are read once the part is off."""
        return Quantity.PART_DIODE if self.quantity is Quantity.DIODE else Quantity.PART_OHMS


def removals(scene: Scene, share: dict[str, float], paths_of: dict[str, Sequence[Path]]) -> Iterator[Candidate]:
    """Take off the leading suspects, each read on the board and by itself.

    Parameters
    ----------
    share : dict
        Belief in each part.
    paths_of : dict
        For each part where its likely defects are, the likeliest first: at that one the board is read, and the part
        by itself at the first `MOST_LOOSE` of them.
    """
    for name in sorted(share, key=lambda part: -share[part] / costs.removal_minutes(scene.board.part(part)))[
        :MOST_REMOVALS
    ]:
        part = scene.board.part(name)
        if name in scene.state.off or name not in paths_of:
            continue
        paths = paths_of[name][:MOST_LOOSE]
        before, after = paired_reading(scene, paths[0].red, paths[0].black, paths[0].quantity)
        steps = (
            *scene.quiet(),
            *before,
            Step("take off", parts=(name,)),
            *after,
            *(Step("read", path.by_itself.value, path.red_pin, path.black_pin) for path in paths),
        )
        title = f"Take {name} off; read its place and the part by itself"
        minutes = costs.removal_minutes(part) + costs.LOOSE * len(paths) + 0.3
        yield Candidate(TestKind.TAKE_OFF, title, steps, minutes, costs.removal_risk(part), None, (name,))


def paired_reading(
    scene: Scene, red: str, black: str, quantity: Quantity = Quantity.OHMS
) -> tuple[tuple[Step, ...], tuple[Step, ...]]:
    """Steps of the same reading before (where none is on record) and after."""
    board = scene.board
    pair = frozenset((red, black))
    for reading in reversed(scene.facts.readings):
        if (
            reading.quantity is quantity
            and frozenset((board.net_at(reading.red), board.net_at(reading.black))) == pair
            and same_circuit(reading.state, scene.state)
        ):
            return (), (Step("read", reading.quantity.value, reading.red, reading.black),)
    step = Step("read", quantity.value, point(scene, red), point(scene, black))
    return (step,), (step,)


class Spot(NamedTuple):
    """What to treat, a part or a net, and the reading that tells whether it helped."""

    name: str
    red: str
    black: str
    quantity: Quantity = Quantity.OHMS


def cures(scene: Scene, joints: Sequence[Spot], dirty: Sequence[Spot]) -> Iterator[Candidate]:
    """Reflow a suspected joint or clean a suspected place, read again, and try."""
    for name, red, black, quantity in dict.fromkeys(joints):
        if name in scene.state.cleaned or name in scene.state.off:
            continue
        before, after = paired_reading(scene, red, black, quantity)
        steps = (*scene.quiet(), *before, Step("reflow", parts=(name,)), *after, *_refitted(scene), Step("try"))
        yield Candidate(
            TestKind.REPLACE,
            f"Reflow {name}, read again and try",
            steps,
            costs.CURE + costs.TRY,
            1.0,
            None,
            (name,),
            None,
            "reflow",
        )
    for spot, red, black, quantity in dict.fromkeys(dirty):
        if spot in scene.state.cleaned:
            continue
        before, after = paired_reading(scene, red, black, quantity)
        steps = (*scene.quiet(), *before, Step("clean", parts=(spot,)), *after, *_refitted(scene), Step("try"))
        yield Candidate(
            TestKind.REPLACE,
            f"Clean {_around(scene, spot)}, let it dry, read again and try",
            steps,
            costs.CURE + costs.TRY + 3.0,
            0.3,
            None,
            (spot,),
            None,
            "clean",
        )


def _around(scene: Scene, spot: str) -> str:
    return f"between the pins of {spot}" if spot in scene.board.part_by_name else f"around {at(scene, spot)}"


def fresh_parts(scene: Scene, share: dict[str, float]) -> Iterator[Candidate]:
    """Fit a new part where a strongly suspected one came off, read again and try."""
    for name in sorted(scene.state.off, key=lambda part: -share.get(part, 0.0)):
        if share.get(name, 0.0) >= 0.5:
            yield fit_new(scene, name)


def fit_new(scene: Scene, name: str) -> Candidate:
    """Fit a new part, put everything else back, read its place again and try the board."""
    part = scene.board.part(name)
    nets = [net for net in part.nets if net != scene.board.ground]
    after: tuple[Step, ...] = ()
    if nets:
        other = nets[1] if len(nets) > 1 and len(part.nets) == 2 else scene.board.ground
        _, after = paired_reading(scene, nets[0], other)
    steps = (*scene.quiet(), Step("replace", parts=(name,)), *_refitted(scene, name), *after, Step("try"))
    minutes = 0.7 * costs.removal_minutes(part) + costs.TRY
    title = f"Fit a new {name}, read again and try"
    return Candidate(TestKind.REPLACE, title, steps, minutes, 0.5, None, (name,), None, "replace")


def _refitted(scene: Scene, besides: str = "") -> tuple[Step, ...]:
    """Whatever is off goes back on before the board is tried."""
    return tuple(Step("refit", parts=(part,)) for part in sorted(scene.state.off) if part != besides)


def entry_gate(scene: Scene) -> Candidate | None:
    """The first thing of all: battery off, label read, polarity measured; then only what of it was left open."""
    rails = [net.name for net in scene.board.nets if net.rail]
    net = next(iter((*scene.board.entries, *rails, scene.board.ground)))
    told = scene.facts.entries
    if any(entry.battery_off for entry in told):
        return None
    if told:
        net = told[-1].net
        title = f"{at(scene, net)} is noted, but not that the battery is off. Unplug it, or see that there is none"
    elif scene.board.entries:
        title = f"Before anything: battery off; read the label at {at(scene, net)}; measure which contact is positive"
    else:
        title = "Before anything: battery off. Nobody has said where power comes in; find that, its volts and polarity"
    return Candidate(TestKind.GATE, title, (Step("describe", red=net),), 1.0, 0.0)
