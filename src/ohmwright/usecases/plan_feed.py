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


def plan_lines(plan: FeedPlan) -> list[str]:
    """The plan in lines."""
    lowest = plan.lowest
    lines = [
        f"plus on {plan.plus}, minus on {plan.minus}",
        f"lowest rating within reach: {lowest.net}, {format_quantity(lowest.stands or 0.0, 'V')} ({lowest.why})",
        f"{len(plan.paths)} nets get volts: {', '.join(p.net for p in plan.paths[:8])}"
        + (" …" if len(plan.paths) > 8 else ""),
    ]
    lines += [f"back-feed: {words}" for words in back_feed(plan)]
    lines += [f"take off first: {what}" for what in plan.disconnect]
    lines += [f"before: {what}" for what in plan.before]
    lines += [f"step {k}: {step.words}; {step.hold:g} s" for k, step in enumerate(plan.steps, 1)]
    lines += [
        f"expected if {e.words} ({100 * e.probability:.0f} %): "
        f"{format_quantity(e.volts, 'V')}, {format_quantity(e.amps, 'A')}"
        for e in plan.expected
    ]
    lines += [f"stop when {what}" for what in plan.stops]
    lines += [f"caution: {c.text}" for c in plan.cautions]
    return lines
