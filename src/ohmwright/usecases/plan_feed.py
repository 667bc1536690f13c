"""A plan for feeding a rail of a case, and what two currents then say."""

from __future__ import annotations

from collections.abc import Sequence

from ohmwright.diagnosis import diagnose
from ohmwright.errors import RefusedError
from ohmwright.planning.feeding import FeedPlan, Finder, back_feed, feed_plan, finder
from ohmwright.quantities import format_quantity
from ohmwright.safety import Refusal
from ohmwright.traces import Slope, slope_of
from ohmwright.usecases.desk import Desk, book_of
from ohmwright.usecases.part_book import opened_up


def plan_feed(desk: Desk, case: str, net: str, volts: float | None = None) -> FeedPlan:
    """The plan for one rail. [V]

    Raises
    ------
    RefusedError
        Saying which rule stands against it, and what to do first.
    """
    book = book_of(desk, case)
    board = opened_up(book.board)
    posterior, _ = diagnose(board, book.facts)
    plan = feed_plan(board, book.facts, posterior, net, volts)
    if isinstance(plan, Refusal):
        raise RefusedError(f"Not permitted: {plan.reason}", where=f"gate {plan.gate}", hint=plan.hint)
    return plan


def path_found(
    points: Sequence[tuple[float, float]], leads: float, set_volts: float, limit: float
) -> tuple[Slope, Finder]:
    """Resistance of the path from (amps, volts) pairs, and whether heat or millivolts will find it. [Ω], [V], [A]"""
    slope = slope_of(points, leads, 0.2 * leads)
    return slope, finder(slope, set_volts, limit)


def plan_parts(plan: FeedPlan) -> dict[str, list[str]]:
    """The plan in words, under what each line is for, in the order of work."""
    lowest = plan.lowest
    reach = f"{len(plan.paths)} nets get volts: {', '.join(p.net for p in plan.paths[:8])}"
    return {
        "off first": list(plan.disconnect),
        "before": list(plan.before),
        "limits": [
            f"lowest rating within reach: {lowest.net}, {format_quantity(lowest.stands or 0.0, 'V')} ({lowest.why})",
            reach + (" …" if len(plan.paths) > 8 else ""),
            *(f"back-feed: {words}" for words in back_feed(plan)),
        ],
        "steps": [f"{step.words}; {step.hold:g} s" for step in plan.steps],
        "expected": [
            f"{e.words} ({100 * e.probability:.0f} %): {format_quantity(e.volts, 'V')}, {format_quantity(e.amps, 'A')}"
            for e in plan.expected
        ],
        "stop when": list(plan.stops),
        "cautions": [c.text for c in plan.cautions],
    }


def plan_lines(plan: FeedPlan) -> list[str]:
    """The plan in lines."""
    lines = [f"plus on {plan.plus}, minus on {plan.minus}"]
    for name, words in plan_parts(plan).items():
        lines.append(f"{name}:")
        lines += [f"  {k}. {word}" if name == "steps" else f"  {word}" for k, word in enumerate(words, 1)]
    return lines
