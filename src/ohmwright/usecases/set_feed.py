"""Feed the board, through the safety rules and no other way."""

from __future__ import annotations

from dataclasses import replace

from ohmwright.casebook import Entry, check_entry
from ohmwright.casebook.events import FeedSet, GateOverruled
from ohmwright.circuit import Feed
from ohmwright.errors import RefusedError
from ohmwright.facts import Override
from ohmwright.safety import Permit, Refusal
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through

MOST_GATES = 12
"""Gates one reason may pass at once; more than there are rules. [1]"""


def set_feed(
    desk: Desk, case: str, feed: Feed, *, override: str = "", expected: int | None = None
) -> tuple[CaseView, Permit]:
    """Record that the board is fed; the permit says what to mind.

    Parameters
    ----------
    override : str
        A reason for passing gates that may be passed; it goes on record.

    Raises
    ------
    RefusedError
        Naming the gate, and what to do first.
    """
    permit, overruled, seen = permit_for(desk, case, feed, override=override)
    # A permit holds for the board as it was judged, not for what somebody has entered since.
    book = record(desk, case, *overruled, FeedSet(feed), expected=seen if expected is None else expected)
    return thought_through(desk, case, book), permit


def permit_for(desk: Desk, case: str, feed: Feed, *, override: str = "") -> tuple[Permit, tuple[Entry, ...], int]:
    """The permit for a feed, the gates that had to be overruled for it, and the event it was judged at. [1]

    Nothing is written.
    """
    book = book_of(desk, case)
    check_entry(book, FeedSet(feed))
    facts = book.facts
    overruled: list[Entry] = []
    for _ in range(MOST_GATES):
        answer = desk.engine.permit(book.board, facts, feed)
        if isinstance(answer, Permit):
            return answer, tuple(overruled), book.sequence
        if not (override.strip() and answer.overridable) or any(o.gate == answer.gate for o in facts.overrides):
            raise _refused(answer)
        overruled.append(GateOverruled(answer.gate, override.strip()))
        facts = replace(facts, overrides=(*facts.overrides, Override(answer.gate, override.strip())))
    raise RefusedError(
        "Not permitted: too many gates stand against it.", hint="feed less, or clear the gates one by one"
    )


def _refused(refusal: Refusal) -> RefusedError:
    may = "; it may be passed with a reason on record" if refusal.overridable else ""
    return RefusedError(f"Not permitted: {refusal.reason}", where=f"gate {refusal.gate}{may}", hint=refusal.hint)
