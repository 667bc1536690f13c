"""A whole case at a bench that answers by itself: the next test, its steps, and again, until it is decided."""

from __future__ import annotations

from typing import Protocol

from ohmwright.casebook import Entry
from ohmwright.casebook.events import FeedOff, TestSkipped
from ohmwright.errors import DataError, RefusedError
from ohmwright.planning.advice import Step, Test
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, view_of
from ohmwright.usecases.record_reading import reading_entry
from ohmwright.usecases.run_test import Bench, run_step

__all__ = ["MOST_TESTS", "Entry", "Onlooker", "work_through"]

MOST_TESTS = 80
"""Tests after which a case is given up. [1]"""


class Onlooker(Protocol):
    """Who watches the case and may answer in the meter's place."""

    def before_test(self, view: CaseView, test: Test) -> bool:
        """Show what is due; False passes the test over."""

    def figures(self, step: Step) -> str:
        """What was typed for a reading, or "" to take it from the bench's own meter."""

    def after_step(self, step: Step, entries: tuple[Entry, ...]) -> None:
        """Show what was entered."""

    def mind(self, cautions: tuple[str, ...]) -> None:
        """Show the cautions of a permit, before the supply goes on."""

    def unreadable(self, error: DataError) -> None:
        """Show why typed figures cannot be; they are asked for again."""

    def refused(self, error: RefusedError) -> None:
        """Show what safety did not permit."""


def work_through(desk: Desk, case: str, bench: Bench, onlooker: Onlooker, *, most: int = MOST_TESTS) -> CaseView:
    """Follow the advice until it says stop; at most that many tests. [1]"""
    view = view_of(desk, case)
    for _ in range(most):
        if view.advice.stop or not view.advice.tests:
            break
        test = view.advice.tests[0]
        if onlooker.before_test(view, test):
            _carry_out(desk, case, test, bench, onlooker)
        else:
            record(desk, case, TestSkipped(test.title))
        view = view_of(desk, case)
    _leave_safe(desk, case, bench)
    return view_of(desk, case)


def _carry_out(desk: Desk, case: str, test: Test, bench: Bench, onlooker: Onlooker) -> None:
    try:
        for step in test.steps:
            onlooker.after_step(step, _one_step(desk, case, step, bench, onlooker))
    except RefusedError as error:
        onlooker.refused(error)
        record(desk, case, TestSkipped(test.title))


def _one_step(desk: Desk, case: str, step: Step, bench: Bench, onlooker: Onlooker) -> tuple[Entry, ...]:
    """Do one step; figures that cannot be are asked for again."""
    while step.act == "read" and (typed := onlooker.figures(step)):
        try:
            entry = reading_entry(desk, case, step.quantity, step.red, step.black, typed, meter=bench.meter)
            record(desk, case, entry)
        except DataError as error:
            onlooker.unreadable(error)
        else:
            return (entry,)
    return run_step(desk, case, step, bench, onlooker.mind)


def _leave_safe(desk: Desk, case: str, bench: Bench) -> None:
    """Nobody walks away from a fed board."""
    if book_of(desk, case).facts.state.feed is not None:
        bench.feed_off()
        record(desk, case, FeedOff())
