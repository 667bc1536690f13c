"""A supply that is watched while it is on, by a process of its own.

The watching process holds the line to the supply and a pipe to the program. It reads volts and amps, applies
`ohmwright.safety.stopping`, and switches the output off when a rule says so, when the supply falls silent, when it is
told to, and when the pipe ends, which it does even if the program is killed. What it cannot do is outlive a power
cut of its own machine; so the supply's own over-voltage and over-current trips are to be set as well.
"""

from __future__ import annotations

import json
import math
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from typing import Any

from ohmwright.circuit import Feed
from ohmwright.errors import InstrumentError, OhmwrightError, RefusedError
from ohmwright.instruments.scpi_line import ScpiLine
from ohmwright.instruments.scpi_supply import ScpiSupply
from ohmwright.safety import Permit
from ohmwright.safety.stopping import Account, FedSample, Stop, StopRules, after, silent_too_long

EVERY = 0.05
"""Time between two looks at the supply. [s]"""
PATIENCE_MS = 1_000
"""How long the supply may take to answer while it is on. [ms]"""
FAREWELL = 8.0
"""How long the watching process may take to end. [s]"""


@dataclass(frozen=True, slots=True)
class Watched:
    """What the guard tells: one sample, or the end and why. [J]"""

    sample: FedSample | None = None
    stop: Stop | None = None
    energy: float = 0.0
    off: bool = False


class FeedGuard:
    """The program's end of the pipe.

    Parameters
    ----------
    address : str
        VISA resource of the supply.
    """

    def __init__(self, address: str) -> None:
        self._address = address
        self._process: subprocess.Popen[str] | None = None

    def on(self, permit: Permit, rules: StopRules) -> None:
        """Start watching, and switch on at exactly what the permit allows.

        Raises
        ------
        RefusedError
            If what is handed over is no permit, or rules and permit name other settings.
        InstrumentError
            If the supply did not take it; the output then is off.
        """
        if not isinstance(permit, Permit):
            raise RefusedError("No supply goes on without a permit.", hint="ask safety.permit first")
        if (rules.set_volts, rules.limit) != (permit.feed.volts, permit.feed.limit):
            raise RefusedError(
                "The stop rules are for another setting than the permit.", hint="make both from one feed"
            )
        self.off()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "ohmwright.instruments.feed_guard"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
        )  # fmt: skip
        self._tell({"address": self._address, "feed": asdict(permit.feed), "rules": asdict(rules)})
        first = self._hear()
        if first is None or "on" not in first:
            self.off()
            raise InstrumentError(
                "The supply did not go on.", where=self._address, why=str((first or {}).get("why", ""))
            )

    def watched(self) -> Iterator[Watched]:
        """Every sample, and at the end why the output went off."""
        while (line := self._hear()) is not None:
            yield _watched(line)
            if line.get("off"):
                return

    def heat(self, hottest: float) -> None:
        """Tell the hottest place of the board. [°C]"""
        self._tell({"hottest": hottest})

    def off(self) -> None:
        """Switch off and end the watch; at any time, and more than once."""
        process, self._process = self._process, None
        if process is None:
            return
        if process.stdin:
            with suppress(OSError):
                process.stdin.close()
        try:
            process.wait(FAREWELL)
        except subprocess.TimeoutExpired:
            process.terminate()
            process.wait(FAREWELL)
        if process.stdout:
            process.stdout.close()

    def _tell(self, what: dict[str, object]) -> None:
        if self._process is None or self._process.stdin is None:
            raise InstrumentError("The supply is not watched.", where=self._address, hint="switch it on first")
        try:
            self._process.stdin.write(json.dumps(what) + "\n")
            self._process.stdin.flush()
        except OSError as error:
            raise InstrumentError("The guard of the supply is gone.", where=self._address, why=str(error)) from error

    def _hear(self) -> dict[str, Any] | None:
        if self._process is None or self._process.stdout is None:
            return None
        line = self._process.stdout.readline()
        return json.loads(line) if line else None


def _watched(line: dict[str, Any]) -> Watched:
    sample = FedSample(*line["sample"]) if line.get("sample") else None
    stop = Stop(*line["stop"]) if line.get("stop") else None
    return Watched(sample, stop, float(line.get("energy", 0.0)), bool(line.get("off")))


def watch(supply: ScpiSupply, rules: StopRules, orders: Iterator[dict[str, Any] | None]) -> Iterator[Watched]:
    """Look at the supply until a rule stops it or the orders end; the output is off when this ends.

    Parameters
    ----------
    orders : iterator
        What came in since the last look: None for nothing; its end means off.
    """
    account, hottest, ended = Account(), None, Stop("told to", "switched off by the program")
    began = time.monotonic()
    try:
        for order in orders:
            if order is not None:
                hottest = order.get("hottest", hottest)
            try:
                shown = supply.measure()
            except OhmwrightError as error:
                ended = Stop("silence", f"the supply does not answer: {error.what}")
                break
            now = time.monotonic() - began
            sample = FedSample(now, shown.volts, shown.amps, hottest)
            late = silent_too_long(account, now, rules)
            account, stop = after(account, sample, rules)
            yield Watched(sample, None, account.energy)
            if stop or late:
                ended = stop or late or ended
                break
    finally:
        off = _switched_off(supply)
    yield Watched(None, ended, account.energy, off)


def _switched_off(supply: ScpiSupply) -> bool:
    """Off, tried three times: a lost answer must not leave it on."""
    for _ in range(3):
        try:
            supply.off()
        except OhmwrightError:
            continue
        return True
    return False


def _orders(stream: Any) -> Iterator[dict[str, Any] | None]:
    """Lines of the pipe as they come, None every now and then; ends with the pipe."""
    while True:
        ready, _, _ = select.select([stream], [], [], EVERY)
        if not ready:
            yield None
            continue
        line = stream.readline()
        if not line:
            return
        try:
            told = json.loads(line)
        except ValueError:
            return
        yield told if isinstance(told, dict) and _sound(told) else None


def _sound(told: dict[str, Any]) -> bool:
    value = told.get("hottest")
    return isinstance(value, int | float) and math.isfinite(value)


def _say(what: dict[str, object]) -> None:
    with suppress(OSError):  # nobody listens any more; the output still has to go off
        sys.stdout.write(json.dumps(what) + "\n")
        sys.stdout.flush()


def _leave(number: int, frame: object) -> None:
    del number, frame
    sys.exit(0)


def main() -> None:
    """Watch one feed; ends with the output off."""
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, _leave)  # so that the output goes off on the way out
    order = json.loads(sys.stdin.readline())
    permit, rules = Permit(Feed(**order["feed"])), StopRules(**order["rules"])
    try:
        supply = ScpiSupply(ScpiLine(order["address"], PATIENCE_MS))
    except OhmwrightError as error:
        _say({"why": str(error)})
        return
    try:
        supply.on(permit)
    except OhmwrightError as error:
        _switched_off(supply)
        _say({"why": str(error)})
        return
    _say({"on": True})
    for seen in watch(supply, rules, _orders(sys.stdin)):
        sample = seen.sample
        _say({
            "sample": None if sample is None else [sample.at, sample.volts, sample.amps, sample.hottest],
            "stop": None if seen.stop is None else [seen.stop.rule, seen.stop.words],
            "energy": seen.energy, "off": seen.off,
        })  # fmt: skip
        if seen.off:
            break
    with suppress(OhmwrightError):
        supply.close()


if __name__ == "__main__":
    main()
