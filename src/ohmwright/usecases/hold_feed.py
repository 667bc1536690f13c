"""Feed one step of a plan while a guard watches the supply; everything on record before and after."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

from ohmwright.casebook.events import FeedOff, ReadingRecorded
from ohmwright.errors import DataError
from ohmwright.facts import Quantity
from ohmwright.planning.feeding import FeedPlan, limit_words
from ohmwright.quantities import format_quantity
from ohmwright.safety import Permit
from ohmwright.safety.stopping import FedSample, Stop, StopRules
from ohmwright.usecases.desk import Desk, record
from ohmwright.usecases.set_feed import set_feed


class Watched(Protocol):
    """One look of the guard: a sample, or the end and why. [J]"""

    @property
    def sample(self) -> FedSample | None:
        """What the supply showed."""
        ...
    @property
    def stop(self) -> Stop | None:
        """Why it ended."""
        ...
    @property
    def energy(self) -> float:
        """[J]"""
        ...
    @property
    def off(self) -> bool:
        """Whether the output is known to be off."""
        ...


class Guard(Protocol):
    """Switches a supply on with a permit, and off by rule whatever becomes of the program."""

    def on(self, permit: Permit, rules: StopRules) -> None:
        """Switch on and watch."""

    def watched(self) -> Iterator[Watched]:
        """Every look, and at the end why."""

    def off(self) -> None:
        """Switch off."""


def hold_feed(
    desk: Desk, case: str, plan: FeedPlan, step: int, guard: Guard, seconds: float, say: Callable[[str], None]
) -> str:
    """Hold one step, and say why it ended. [1], [s]

    The supply's last steady volts and amps go on record as readings, so that the belief hears of them.
    """
    if not 1 <= step <= len(plan.steps):
        raise DataError(f"The plan has no step {step}.", hint=f"it has {len(plan.steps)}")
    feed = plan.steps[step - 1].feed
    rules = plan.rules(step - 1)
    _, permit = set_feed(desk, case, feed)
    last: FedSample | None = None
    ended, energy = "", 0.0
    try:
        guard.on(permit, rules)
        for seen in guard.watched():
            energy = seen.energy
            if seen.sample is not None:
                last = seen.sample
                shown = f"{format_quantity(last.volts, 'V')}  {format_quantity(last.amps, 'A')}"
                say(f"{last.at:5.1f} s  {shown}  {energy:.2g} J")
                if last.at >= seconds:
                    ended = f"held for {seconds:g} s"
                    break
            if seen.stop is not None:
                ended = f"{seen.stop.rule}: {seen.stop.words}"
                if not seen.off:
                    ended += ". THE SUPPLY DID NOT SAY THAT IT IS OFF: switch it off by hand"
    finally:
        guard.off()
        _on_record(desk, case, feed.plus, feed.minus, last)
    words = limit_words(last.volts, last.amps, feed) if last is not None else "nothing was read"
    return f"{ended or 'the guard ended'}; {words}; {energy:.3g} J went in"


def _on_record(desk: Desk, case: str, plus: str, minus: str, last: FedSample | None) -> None:
    entries = [] if last is None else [
        ReadingRecorded(Quantity.SUPPLY_VOLTS, plus, minus, last.volts, desk.meter, "supply"),
        ReadingRecorded(Quantity.SUPPLY_AMPS, plus, minus, last.amps, desk.meter, "supply"),
    ]  # fmt: skip
    record(desk, case, *entries, FeedOff())
