"""A guarded feed as it goes: its permit, what was seen so far, how near each stop rule is, what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from ohmwright.circuit import Feed
from ohmwright.errors import DataError, OhmwrightError, OutputUnknownError, RefusedError
from ohmwright.facts import Facts
from ohmwright.safety import Permit
from ohmwright.safety.stopping import BEYOND_SET, COLLAPSED, RECOVERED, FedSample, StopRules
from ohmwright.usecases.desk import Desk, book_of, record
from ohmwright.usecases.hold_feed import (
    Guard,
    Watched,
    begin_hold,
    came_of,
    fed_entries,
    step_feed,
    stop_words,
    sweep_permits,
)
from ohmwright.usecases.plan_feed import plan_feed
from ohmwright.usecases.sweep_supply import knee_words

SWEEP_SECONDS = 120.0
"""Longest sweep. [s]"""
EXPECTED = ("told to", "time is up", "all steps done")
"""Rules that end a feed as it was meant to end."""


@dataclass(frozen=True, slots=True)
class GuardedFeed:
    """One feed, and what was seen of it so far.

    Parameters
    ----------
    sweep : tuple of Permit
        The settings of a sweep; none for a feed that is held.
    energy, most : float
        What went in [J], and the most power there was [W].
    ended : str
        Why the output went off.
    tripped : bool
        Whether that was by a rule that says that something is wrong.
    unknown : bool
        Whether the supply was told to go off and did not say that it is: the output may be on.
    """

    feed: Feed
    rules: StopRules
    sweep: tuple[Permit, ...] = ()
    samples: tuple[FedSample, ...] = ()
    energy: float = 0.0
    most: float = 0.0
    ended: str = ""
    tripped: bool = False
    unknown: bool = False

    @property
    def told(self) -> tuple[FedSample, ...]:
        """What of it goes on record: of a sweep the last setting only, and nothing where it was cut short."""
        if not self.sweep:
            return self.samples
        return () if self.tripped or len(self.samples) < len(self.sweep) else self.samples[-1:]

    @property
    def words(self) -> str:
        """One line on what came of it."""
        return came_of(self.feed, self.samples, self.ended, self.energy)

    @property
    def knee(self) -> str:
        """What a sweep says of a knee; "" for a feed that was held."""
        if not self.sweep:
            return ""
        try:
            return knee_words([(s.volts, s.amps) for s in self.samples])
        except DataError as error:
            return f"{error.what} {error.hint}"


def held_feed(
    desk: Desk, case: str, net: str, volts: float | None, step: int, seconds: float, spent: float = 0.0
) -> GuardedFeed:
    """One step of the plan for a rail, ended after so long. [V], [1], [s]

    Parameters
    ----------
    spent : float
        What went into this rail before, since anything was found or done: the energy of all steps counts. [J]
    """
    plan = plan_feed(desk, case, net, volts)
    feed, rules = step_feed(plan, step), plan.rules(step - 1)
    if spent >= rules.energy:
        raise RefusedError(
            f"Not permitted: {spent:.0f} J went into {net} without an end; more finds nothing.",
            where="gate energy",
            hint="put on record where it got warm, or that it did not, and change to millivolts",
        )
    return GuardedFeed(feed, replace(rules, seconds=min(seconds, rules.seconds), energy=rules.energy - spent))


def swept_feed(desk: Desk, case: str, net: str, volts: float, limit: float, steps: int) -> GuardedFeed:
    """Even steps up to a setting, each with its permit. [V], [A], [1]"""
    board = book_of(desk, case).board
    feed = Feed(board.net_at(net), board.ground, volts, limit)
    rules = StopRules(volts, limit, watts=1.05 * volts * limit + 0.1, seconds=SWEEP_SECONDS)
    return GuardedFeed(feed, rules, sweep_permits(desk, case, feed, steps))


def label_of(case: str, fed: GuardedFeed) -> dict[str, object]:
    """What the guard's journal begins with."""
    return {"case": case, "feed": asdict(fed.feed), "rules": asdict(fed.rules), "sweep": len(fed.sweep)}


def switch_on(desk: Desk, case: str, fed: GuardedFeed, guard: Guard, bench: Any = None) -> None:
    """On record first, then on: a feed that nobody wrote down must not be.

    Parameters
    ----------
    bench : object or None
        A practice bench, whose hands clip the supply on; elsewhere the user has.
    """
    permit = begin_hold(desk, case, fed.feed)
    try:
        if bench is not None:
            bench.clip(permit)
        guard.on(permit, fed.rules, fed.sweep)
    except OutputUnknownError:
        guard.off()
        raise  # it stays on record as fed, until somebody has seen that it is off
    except OhmwrightError:
        guard.off()
        record(desk, case, *fed_entries(desk, case, fed.feed, ()))
        raise


def fed_after(fed: GuardedFeed, look: Watched) -> GuardedFeed:
    """The feed after one more look of its guard."""
    fed = replace(fed, energy=look.energy)
    if look.sample is not None:
        watts = look.sample.volts * look.sample.amps
        fed = replace(fed, samples=(*fed.samples, look.sample), most=max(fed.most, watts))
    if look.stop is not None:
        tripped = look.stop.rule not in EXPECTED
        fed = replace(fed, ended=stop_words(look), tripped=tripped, unknown=not look.off)
    return fed


def is_on_record(facts: Facts, fed: GuardedFeed) -> bool:
    """Whether the case has this feed as on."""
    return facts.state.feed == fed.feed


def put_on_record(desk: Desk, case: str, fed: GuardedFeed) -> None:
    """Enter what a feed came to: last volts and amps, its trace, and that it is off.

    Where somebody has said meanwhile that it is off, or fed otherwise, what was seen belongs to no state of the case.
    Where the supply did not say that it is off, it stays on record as fed until somebody has looked.
    """
    if not is_on_record(book_of(desk, case).facts, fed):
        return
    entries = fed_entries(desk, case, fed.feed, fed.told, off=not fed.unknown)
    if entries:
        record(desk, case, *entries)


def left_behind(desk: Desk, case: str, found: tuple[Mapping[str, Any], Sequence[Watched]] | None) -> GuardedFeed | None:
    """The feed in a journal, if the case still has it as on though its guard has ended; else None."""
    if found is None or found[0].get("case") != case:
        return None
    label, looks = found
    fed = GuardedFeed(Feed(**label["feed"]), StopRules(**label["rules"]))
    if not is_on_record(book_of(desk, case).facts, fed) or not (looks and looks[-1].stop is not None):
        return None
    for look in looks:
        fed = fed_after(fed, look)
    return replace(fed, samples=()) if label.get("sweep") else fed


def rule_lines(fed: GuardedFeed) -> list[dict[str, Any]]:
    """The stop rules, each with how near it is."""
    rules, last = fed.rules, fed.samples[-1] if fed.samples else None
    down = any(s.amps > 0.9 * rules.limit and s.volts < COLLAPSED * rules.set_volts for s in fed.samples)
    volts = 0.0 if last is None else last.volts
    most = BEYOND_SET * rules.set_volts + 0.05
    margin = most - rules.set_volts
    return [
        _rule("Power", fed.most, rules.watts, "W"),
        _rule("Energy", fed.energy, rules.energy, "J"),
        _rule("Time", 0.0 if last is None else last.at, rules.seconds, "s"),
        _rule("Hottest place", None if last is None else last.hottest, rules.hottest, "°C"),
        _rule("Volts come back", volts if down else None, RECOVERED * rules.set_volts, "V"),
        _rule("Beyond its setting", volts, most, "V") | {"share": max(0.0, (volts - rules.set_volts) / margin)},
        _rule("Supply silent", None, rules.silence, "s"),
    ]


def _rule(name: str, now: float | None, most: float, unit: str) -> dict[str, Any]:
    return {"name": name, "now": now, "most": most, "unit": unit, "share": 0.0 if now is None else now / most}
