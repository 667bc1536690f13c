"""A plan for feeding a rail to find what is wrong on it: volts, limits, steps, clips, what to take off, when to stop.

Computed from the board and the belief; every step of it has its permit from `ohmwright.safety`, or there is no plan.
Limits are judged in watts as well as in amps: what a copper path and a part can bear is power.
"""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import Board, Feed
from ohmwright.diagnosis import Posterior
from ohmwright.facts import HANDHELD, Facts, Meter, Quantity, Reading
from ohmwright.planning.advice import Caution
from ohmwright.planning.candidates import MOST_WATTS
from ohmwright.planning.cautions import caution
from ohmwright.planning.foresight import Expected, expect_exactly, foresee
from ohmwright.quantities import format_quantity
from ohmwright.safety import NO_TOUCH, Permit, Reached, Refusal, permit, reached_from
from ohmwright.safety.reach import UNKNOWN_RAIL
from ohmwright.safety.stopping import MOST_ENERGY, StopRules
from ohmwright.traces.slope import Slope

STEPS = (0.5, 1.0, 2.0, 3.0, 5.0)
"""Limits, one after the other. [A] common practice, no source"""
FIRST_VOLTS = 0.8
"""Volts to begin with: no coil has to be checked first, and most junctions stay off. [V] common practice, no source"""
HOLD = 20.0
"""How long to look at each step. [s] common practice, no source"""
SUPPLY_CAPACITANCE = 1000e-6
"""What a bench supply keeps in its output capacitor, unlimited by its current limit. [F] common practice, no source"""
SPARK = 0.02
"""Stored energy from which connecting with the output on does harm. [J] estimate"""
COPPER = 0.030
"""Resistance of clips, leads behind the sense point and copper on the way. [Ω] estimate"""
HEAT_FROM, GRADIENT_TO = 0.050, 0.010
"""Path resistance from which heat finds it, and up to which the copper gets warmer than the part. [Ω] estimate"""
LISTED = 6
LOOSE_FIRST = ("connector", "socket", "module")


@dataclass(frozen=True, slots=True)
class FeedStep:
    """One setting, and how long to look. [W], [s]"""

    feed: Feed
    watts: float
    hold: float
    words: str


@dataclass(frozen=True, slots=True)
class ExpectedFeed:
    """What the supply would show under one suspect. [1], [V], [A]"""

    key: str
    words: str
    probability: float
    volts: float
    amps: float


@dataclass(frozen=True, slots=True)
class FeedPlan:
    """Everything about one feed, before it is begun.

    Parameters
    ----------
    lowest : Reached
        The net within reach that stands least.
    paths : tuple of Reached
        Every net that gets volts, with the drop of junctions on the way.
    charge : float
        What the supply's output capacitor holds at the set volts. [J]
    expected : tuple of ExpectedFeed
        At the first step.
    """

    plus: str
    minus: str
    steps: tuple[FeedStep, ...]
    lowest: Reached
    paths: tuple[Reached, ...]
    disconnect: tuple[str, ...]
    before: tuple[str, ...]
    charge: float
    expected: tuple[ExpectedFeed, ...]
    stops: tuple[str, ...]
    cautions: tuple[Caution, ...]

    def rules(self, step: int) -> StopRules:
        """When the guard switches a step off. [1]"""
        one = self.steps[step]
        return StopRules(one.feed.volts, one.feed.limit, max(one.watts, 0.5) * 1.2, MOST_ENERGY, 3 * one.hold)


def feed_plan(
    board: Board, facts: Facts, posterior: Posterior, net: str, volts: float | None = None
) -> FeedPlan | Refusal:
    """A plan for feeding a net, or why not.

    Parameters
    ----------
    volts : float or None
        Volts asked for; None takes what suits looking for a short. [V]
    """
    name = board.net_at(net)
    labels = {board.net_at(e.net): e.label_volts for e in facts.entries if e.label_volts}
    paths = reached_from(board, facts.state, name, labels)
    known = [p for p in paths if p.stands is not None]
    if name == board.ground:
        return Refusal("clips", "Plus on ground feeds nothing.", "name the rail that reads low")
    if not known:
        return Refusal("rating", f"Nobody knows what any net behind {name} stands.", f"stay at {UNKNOWN_RAIL:g} V")
    lowest = min(known, key=lambda p: (p.stands or 0.0) + p.drop)
    most = (lowest.stands or 0.0) + lowest.drop
    wish = min(FIRST_VOLTS, most) if volts is None else volts
    if wish > most + 1e-9:
        return Refusal(
            "rating",
            f"{lowest.why}, and {wish:g} V at {name} reaches it.",
            f"feed at most {format_quantity(most, 'V')}",
        )
    steps: list[FeedStep] = []
    for limit in STEPS:
        feed = Feed(name, board.ground, wish, limit)
        answer = permit(board, facts, feed)
        if not isinstance(answer, Permit):
            if not steps:
                return answer
            break
        steps.append(_step(feed, len(steps)))
    return FeedPlan(
        name, board.ground, tuple(steps), lowest, paths, _disconnect(board, facts), _before(wish, steps[0].feed.limit),
        0.5 * SUPPLY_CAPACITANCE * wish**2, _expected(posterior, facts, steps[0].feed), _stops(wish), _cautions(wish),
    )  # fmt: skip


def _step(feed: Feed, number: int) -> FeedStep:
    watts = min(feed.volts * feed.limit, MOST_WATTS)
    words = (
        f"{format_quantity(feed.volts, 'V')}, at most {format_quantity(feed.limit, 'A')} "
        f"and {format_quantity(watts, 'W')}: "
        "volts at the pads, amps, hottest place"
    )
    if number:
        words += "; only if the step before found nothing warm and the volts stayed down"
    return FeedStep(feed, watts, HOLD, words)


def _disconnect(board: Board, facts: Facts) -> tuple[str, ...]:
    """What can be unplugged and would be fed or would feed back."""
    plugged = [p.name for p in board.parts if p.kind in LOOSE_FIRST and p.name not in facts.state.off]
    cells = [p.name for p in board.parts if any(pin.role == "BAT" for pin in p.pins)]
    out = ["battery and coin cell" + (f" ({', '.join(cells[:3])})" if cells else ""), "charger and every cable"]
    if plugged:
        out.append(f"whatever is plugged into {', '.join(plugged[:6])}")
    out.append("memory, disks and displays that unplug")
    return tuple(out)


def _before(volts: float, limit: float) -> tuple[str, ...]:
    energy = 0.5 * SUPPLY_CAPACITANCE * volts**2
    spark = f"the supply's capacitor holds about {1e3 * energy:.2g} mJ at {volts:g} V, outside any limit" + (
        ": enough to kill a part" if energy > SPARK else ""
    )
    return (
        f"leads open, output on: set {volts:g} V; leads shorted: set {limit:g} A; then output off",
        f"connect with the output off: {spark}",
        "plus clip on the rail at its largest capacitor or coil, minus on ground copper near the entry",
        "leads short and thick",
        "a second meter on volts at the same pads: the supply's own display includes its leads",
        "set the supply's own over-voltage trip a little above the set volts",
    )


def _expected(posterior: Posterior, facts: Facts, feed: Feed) -> tuple[ExpectedFeed, ...]:
    """Volts and amps under the leading suspects, from the belief's own classes."""
    view = foresee(posterior)
    meter: Meter = next((r.meter for r in reversed(facts.readings)), HANDHELD)
    state = facts.state.unfed.with_feed(feed)
    ask = [Reading(q, feed.plus, feed.minus, 0.0, state, meter) for q in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS)]
    volts, amps = expect_exactly(view, ask)
    odds = view.belief.probabilities
    order = sorted(range(len(odds)), key=lambda c: -odds[c])[:LISTED]
    return tuple(
        ExpectedFeed(
            str(view.belief.cells[c]),
            _words(str(view.belief.cells[c])),
            float(odds[c]),
            _value(volts, c),
            _value(amps, c),
        )
        for c in order
    )


def _value(expected: Expected, cell: int) -> float:
    return float(expected.line.probe.unscaled(float(expected.mean[cell])))


def _words(cell: str) -> str:
    if cell == "none":
        return "nothing wrong there"
    part, nature, *_ = cell.split(" + ")[0].split(":")
    name = "something not on the map" if part == "unmapped" else part
    return f"{name}, {'a path' if nature == 'path' else nature}"


def _stops(volts: float) -> tuple[str, ...]:
    return (
        f"the volts at the pads come back to {0.9 * volts:.2g} V: burned open, or never hard",
        "anything that is not a suspect above 70 °C; smell, a bubble, a change of colour",
        f"{MOST_ENERGY:g} J in all without a warm place",
        "5 A and less than 2 K anywhere: change to millivolts",
    )


def _cautions(volts: float) -> tuple[Caution, ...]:
    codes = ["battery", "eyes", "burn", "limit", "solvent", "mains"]
    if volts > NO_TOUCH:
        codes.append("over 30 V")
    return tuple(caution(code) for code in codes)


@dataclass(frozen=True, slots=True)
class Finder:
    """What finds the place of a path: heat, millivolts, either, or first a better reading; and why."""

    method: str
    why: str


def finder(slope: Slope, set_volts: float, limit: float) -> Finder:
    """The way to the place, from the resistance that two currents gave. [V], [A]"""
    ohms = slope.best
    if slope.junction:
        return Finder(
            "reading",
            f"{slope.offset:.2g} V remain at no current: a junction is in the path, so this is no plain short",
        )
    share = ohms / (ohms + COPPER)
    if slope.ohms.high <= GRADIENT_TO or ohms < GRADIENT_TO:
        return Finder(
            "millivolts",
            f"{1e3 * ohms:.2g} mΩ: only {100 * share:.0f} % of the heat is in the part, the rest in copper and clips",
        )
    amps = min(limit, set_volts / max(ohms + COPPER, 1e-9))
    watts = amps**2 * ohms
    if slope.ohms.low >= HEAT_FROM:
        return Finder(
            "heat", f"{format_quantity(ohms, 'Ω')} takes {format_quantity(watts, 'W')} at {format_quantity(amps, 'A')}"
        )
    return Finder("either", f"{1e3 * ohms:.3g} mΩ lies between: heat first for 30 s, then millivolts along the rail")


def limit_words(volts: float, amps: float, feed: Feed) -> str:
    """What a supply at its limit says, and what it does not. [V], [A]"""
    if amps < 0.97 * feed.limit:
        return "below the limit"
    if volts >= 0.93 * feed.volts:
        return "at the limit with the volts held: the board asks for more, and no short is proven"
    return (
        f"at the limit with the volts collapsed to {format_quantity(volts, 'V')}: "
        f"{format_quantity(volts / amps, 'Ω')} with leads and any junction; a second current tells them apart"
    )


def back_feed(plan: FeedPlan) -> tuple[str, ...]:
    """Nets that get volts through a junction, lowest rating first, in words."""
    through = [p for p in plan.paths if p.drop > 0.0 and p.stands is not None]
    volts = plan.steps[0].feed.volts
    return tuple(
        f"{p.net} gets up to {format_quantity(max(volts - p.drop, 0.0), 'V')} through a junction, "
        f"stands {format_quantity(p.stands or 0.0, 'V')}"
        for p in sorted(through, key=lambda p: p.stands or 0.0)
    )
