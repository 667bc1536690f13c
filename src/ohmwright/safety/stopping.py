"""When a supply that is on has to go off at once: pure rules over what it shows, kept apart from who switches it.

A short that clears makes the volts jump to the setting; a burning part takes more and more energy; a supply that shows
more than it was set to is broken. Each rule names itself, so that the record says why the output went off.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

RECOVERED = 0.9
"""Share of the set volts at which the volts have come back. [1]"""
COLLAPSED = 0.6
"""Share below which they were down before. [1]"""
HOTTEST = 70.0
"""Temperature at which anything but the suspect is too hot. [°C] common practice, no source; 60 °C burns skin in 5 s"""
MOST_ENERGY = 300.0
"""Energy after which going on finds nothing. [J] estimate"""
BEYOND_SET = 1.05
"""Share of the setting a supply may show before it is held for broken. [1]"""


@dataclass(frozen=True, slots=True)
class StopRules:
    """What one feed may come to.

    Parameters
    ----------
    set_volts, limit : float
        [V], [A]
    watts : float
        Most power into the board. [W]
    energy : float
        [J]
    seconds : float
        Longest time with the output on. [s]
    hottest : float
        [°C]
    silence : float
        Longest time without a reading of the supply. [s]
    """

    set_volts: float
    limit: float
    watts: float = 10.0
    energy: float = MOST_ENERGY
    seconds: float = 60.0
    hottest: float = HOTTEST
    silence: float = 1.5


@dataclass(frozen=True, slots=True)
class FedSample:
    """What the supply showed, and the hottest place where something tells. [s], [V], [A], [°C]"""

    at: float
    volts: float
    amps: float
    hottest: float | None = None


@dataclass(frozen=True, slots=True)
class Account:
    """What went in so far.

    Parameters
    ----------
    energy : float
        Volts times amps, by the trapezoidal rule. [J]
    seconds : float
        Since the output went on. [s]
    was_down : bool
        Whether the volts had collapsed before.
    last : FedSample or None
    """

    energy: float = 0.0
    seconds: float = 0.0
    was_down: bool = False
    last: FedSample | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """Why the output has to go off, and what that means."""

    rule: str
    words: str


def after(account: Account, sample: FedSample, rules: StopRules) -> tuple[Account, Stop | None]:
    """The account after one more sample, and whether to stop."""
    energy, seconds = account.energy, account.seconds
    if account.last is not None:
        span = max(sample.at - account.last.at, 0.0)
        mean = 0.5 * (sample.volts * sample.amps + account.last.volts * account.last.amps)
        energy, seconds = energy + max(mean, 0.0) * span, seconds + span
    down = account.was_down or (sample.amps > 0.9 * rules.limit and sample.volts < COLLAPSED * rules.set_volts)
    grown = replace(account, energy=energy, seconds=seconds, was_down=down, last=sample)
    return grown, _stop(grown, sample, rules)


def silent_too_long(account: Account, now: float, rules: StopRules) -> Stop | None:
    """Whether nobody knows any more what the supply does. [s]"""
    if account.last is not None and now - account.last.at > rules.silence:
        return Stop(
            "silence", f"the supply has not answered for {now - account.last.at:.1f} s: nobody knows what it does"
        )
    return None


def _stop(account: Account, sample: FedSample, rules: StopRules) -> Stop | None:
    watts = sample.volts * sample.amps
    if sample.volts > BEYOND_SET * rules.set_volts + 0.05 or sample.amps > BEYOND_SET * rules.limit + 0.02:
        return Stop(
            "beyond the setting",
            f"{sample.volts:.3g} V and {sample.amps:.3g} A, set to {rules.set_volts:g} V and {rules.limit:g} A: "
            "the supply does not hold its setting",
        )
    if account.was_down and sample.volts >= RECOVERED * rules.set_volts:
        return Stop(
            "volts recovered",
            f"the volts came back to {sample.volts:.3g} V: the short burned open or was never hard; "
            "a part that burned open still has to come off",
        )
    if sample.hottest is not None and sample.hottest > rules.hottest:
        return Stop("too hot", f"{sample.hottest:.0f} °C at the hottest place, at most {rules.hottest:.0f} °C")
    if watts > rules.watts:
        return Stop("too much power", f"{watts:.3g} W into the board, at most {rules.watts:g} W")
    if account.energy > rules.energy:
        return Stop("too much energy", f"{account.energy:.0f} J went in without an end: more finds nothing")
    if account.seconds > rules.seconds:
        return Stop("time is up", f"on for {account.seconds:.0f} s")
    return None
