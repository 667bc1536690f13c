"""A supply that is watched while it is on, by a process of its own.

The watching process holds the line to the supply and a pipe to the program. It reads volts and amps, applies
`ohmwright.safety.stopping`, and switches the output off when a rule says so, when the supply falls silent, when it is
told to, and when the pipe ends, which it does even if the program is killed. All it sees it also writes into a file, so
that a program that was killed finds afterwards what its feed came to. What it cannot do is outlive a power cut of its
own machine; so the supply's own over-voltage and over-current trips are to be set as well.
"""

from __future__ import annotations

import json
import math
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import IO, Any, Protocol

from ohmwright.circuit import Feed
from ohmwright.errors import InstrumentError, OhmwrightError, OutputUnknownError, RefusedError
from ohmwright.instruments.joined import joined_supply
from ohmwright.instruments.scpi_line import ScpiLine
from ohmwright.instruments.scpi_supply import ScpiSupply
from ohmwright.safety import Permit
from ohmwright.safety.stopping import Account, FedSample, Stop, StopRules, after, silent_too_long
from ohmwright.usecases.ports import SupplyPort

EVERY = 0.05
"""Time between two looks at the supply. [s]"""
PATIENCE_MS = 1_000
"""How long the supply may take to answer while it is on. [ms]"""
MOST_LINES = 200_000
"""Lines of a journal that are read back. [1]"""
LOOKS = 4
"""Looks at each setting of a sweep; the last counts. [1]"""
LAST_TRY = 120.0
"""How long a supply that cannot be reached is tried again, whatever becomes of the program. [s]"""
GONE = Stop("program gone", "the program that asked for the feed ended")
MAY_BE_ON = "The supply does not answer, and its output MAY BE ON."
BY_HAND = "switch it off by hand, and look at its own display; then say here that it is off"
STILL_TRYING: list[subprocess.Popen[str]] = []
"""Guards that still try to switch off a supply that they cannot reach; they are left to that, and end by themselves."""
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
    family : str
        Its description by name; "" speaks plain SCPI.
    journal : Path or None
        Where the guard writes what it sees, line by line.
    label : mapping
        What stands in the journal's first line, to know it again.
    """

    def __init__(
        self, address: str, family: str = "", journal: Path | None = None, label: Mapping[str, object] | None = None
    ) -> None:
        self._address, self._family, self._journal, self._label = address, family, journal, dict(label or {})
        self._process: subprocess.Popen[str] | None = None

    def on(self, permit: Permit, rules: StopRules, sweep: Sequence[Permit] = ()) -> None:
        """Start watching, and switch on at exactly what the permit allows.

        Parameters
        ----------
        sweep : sequence of Permit
            Settings to go through one after the other instead, each with a permit of its own.

        Raises
        ------
        RefusedError
            If what is handed over is no permit, or rules and permit name other settings.
        InstrumentError
            If the supply did not take it; the output then is off.
        OutputUnknownError
            If it cannot be reached any more and the output may be on. The guard goes on trying to switch it off.
        """
        if not isinstance(permit, Permit):
            raise RefusedError("No supply goes on without a permit.", hint="ask safety.permit first")
        if not all(isinstance(one, Permit) for one in sweep):
            raise RefusedError("No step of a sweep without a permit.", hint="ask safety.permit for each first")
        if (rules.set_volts, rules.limit) != (permit.feed.volts, permit.feed.limit):
            raise RefusedError(
                "The stop rules are for another setting than the permit.", hint="make both from one feed"
            )
        self.off()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "ohmwright.instruments.feed_guard"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
        )  # fmt: skip
        self._tell({
            "address": self._address, "family": self._family, "feed": asdict(permit.feed), "rules": asdict(rules),
            "sweep": [asdict(one.feed) for one in sweep], "label": self._label,
            "journal": "" if self._journal is None else str(self._journal),
        })  # fmt: skip
        first = self._hear()
        if first is None or "on" not in first:
            self.off()
            why = str((first or {}).get("why", ""))
            if first is None or not first.get("off", False):
                raise OutputUnknownError(MAY_BE_ON, where=self._address, why=why, hint=BY_HAND)
            raise InstrumentError("The supply did not go on.", where=self._address, why=why)

    def watched(self) -> Iterator[Watched]:
        """Every sample, and at the end why the output went off."""
        while (line := self._hear()) is not None:
            yield _watched(line)
            if line.get("off"):
                return

    def heat(self, hottest: float) -> None:
        """Tell the hottest place of the board. [°C]"""
        self._tell({"hottest": hottest})

    def ask_off(self) -> None:
        """Have it switched off; who reads `watched` hears of it. From any thread, at any time."""
        with suppress(InstrumentError, ValueError):  # it is off, or about to be
            self._tell({"off": True})

    def off(self) -> None:
        """Switch off and end the watch; at any time, and more than once."""
        self.ask_off()
        process, self._process = self._process, None
        if process is None:
            return
        if process.stdin:
            with suppress(OSError):
                process.stdin.close()
        try:
            process.wait(FAREWELL)
        except subprocess.TimeoutExpired:
            STILL_TRYING.append(process)
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


def watch(
    supply: SupplyPort, rules: StopRules, orders: Iterator[dict[str, Any] | None], sweep: Sequence[Permit] = ()
) -> Iterator[Watched]:
    """Look at the supply until a rule stops it or the orders end; the output is off when this ends.

    Parameters
    ----------
    orders : iterator
        What came in since the last look: None for nothing; its end means off.
    sweep : sequence of Permit
        Settings to go through, one at every look or so; the output goes off after the last.
    """
    account, hottest, ended = Account(), None, GONE
    began, course = time.monotonic(), _Course(supply, rules, sweep)
    try:
        for order in orders:
            if order is not None:
                hottest = order.get("hottest", hottest)
                if order.get("off"):
                    ended = Stop("told to", "switched off by hand")
                    break
            try:
                account = course.go_on(account)
                shown = supply.measure()
            except OhmwrightError as error:
                ended = Stop("silence", f"the supply does not answer: {error.what}")
                break
            now = time.monotonic() - began
            sample = FedSample(now, shown.volts, shown.amps, hottest)
            late = silent_too_long(account, now, course.rules)
            account, stop = after(account, sample, course.rules)
            if course.settled:
                yield Watched(sample, None, account.energy)
            if stop or late or course.over:
                ended = stop or late or Stop("all steps done", f"{len(sweep)} steps")
                break
    finally:
        off = _switched_off(supply)
    yield Watched(None, ended, account.energy, off)
    if not off:
        yield Watched(None, ended, account.energy, _switched_off(supply, LAST_TRY))


class _Course:
    """The settings of a sweep, one after the other; without any, the one that is on.

    The first look at a new setting is not told of: the supply is still on its way.
    """

    def __init__(self, supply: SupplyPort, rules: StopRules, sweep: Sequence[Permit]) -> None:
        self._supply, self._all, self._sweep = supply, rules, sweep
        self._looks = 0
        self.rules, self.settled, self.over = rules, True, False

    def go_on(self, account: Account) -> Account:
        """The next setting, if it is time; what was before it does not speak against it."""
        if not self._sweep:
            return account
        at, look = divmod(self._looks, LOOKS)
        self._looks += 1
        self.settled, self.over = look == LOOKS - 1, self._looks >= LOOKS * len(self._sweep)
        if look:
            return account
        self._supply.on(self._sweep[at])
        feed = self._sweep[at].feed
        self.rules = replace(self._all, set_volts=feed.volts, limit=feed.limit)
        return replace(account, was_down=False)


def _switched_off(supply: SupplyPort, patience: float = 2.0) -> bool:
    """Off, tried three times and for so long: neither a lost answer nor a cable that comes back leaves it on. [s]"""
    end, tries = time.monotonic() + patience, 0
    while tries < 3 or time.monotonic() < end:
        tries += 1
        try:
            supply.off()
        except OhmwrightError:
            time.sleep(EVERY)
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
    if told.get("off") is True:
        return True
    value = told.get("hottest")
    return isinstance(value, int | float) and math.isfinite(value)


class _Record:
    """What the guard says, to the program and into its journal."""

    def __init__(self, journal: str, label: dict[str, object]) -> None:
        # Open for as long as this process lives; every line is flushed.
        self._file: IO[str] | None = Path(journal).open("w", encoding="utf-8") if journal else None  # noqa: SIM115 - see above
        self._write({"label": label})

    def say(self, what: dict[str, object]) -> None:
        """To whoever listens."""
        self._write(what)
        with suppress(OSError):  # nobody listens any more; the output still has to go off
            sys.stdout.write(json.dumps(what) + "\n")
            sys.stdout.flush()

    def _write(self, what: dict[str, object]) -> None:
        if self._file is None:
            return
        with suppress(OSError):  # a full disk must not keep the output on
            self._file.write(json.dumps(what) + "\n")
            self._file.flush()


def _leave(number: int, frame: object) -> None:
    del number, frame
    sys.exit(0)


class _Closing(SupplyPort, Protocol):
    def close(self) -> None:
        """Let it go."""


def _joined(address: str, family: str) -> _Closing:
    return joined_supply(address, family) if family else ScpiSupply(ScpiLine(address, PATIENCE_MS))


def main() -> None:
    """Watch one feed; ends with the output off."""
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, _leave)  # so that the output goes off on the way out
    order = json.loads(sys.stdin.readline())
    permit, rules = Permit(Feed(**order["feed"])), StopRules(**order["rules"])
    sweep = [Permit(Feed(**feed)) for feed in order["sweep"]]
    record = _Record(order["journal"], order["label"])
    try:
        supply = _joined(order["address"], order["family"])
    except OhmwrightError as error:
        record.say({"why": str(error), "off": True})  # nothing was told to any supply
        return
    try:
        if not sweep:
            supply.on(permit)
    except OhmwrightError as error:
        off = _switched_off(supply)
        record.say({"why": str(error), "off": off})
        if not off:
            record.say({"why": str(error), "off": _switched_off(supply, LAST_TRY)})
        return
    record.say({"on": True})
    for seen in watch(supply, rules, _orders(sys.stdin), sweep):
        sample = seen.sample
        record.say({
            "sample": None if sample is None else [sample.at, sample.volts, sample.amps, sample.hottest],
            "stop": None if seen.stop is None else [seen.stop.rule, seen.stop.words],
            "energy": seen.energy, "off": seen.off,
        })  # fmt: skip
        if seen.off:
            break
    with suppress(OhmwrightError):
        supply.close()


def journal_seen(path: Path) -> tuple[dict[str, Any], tuple[Watched, ...]] | None:
    """The first line of a guard's journal and what it saw; None where there is none that can be read."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()[:MOST_LINES]
        told = [json.loads(line) for line in lines]
        label = dict(told[0]["label"])
        return label, tuple(_watched(line) for line in told[1:] if "energy" in line)
    except (OSError, ValueError, KeyError, IndexError, TypeError):
        return None


if __name__ == "__main__":
    main()
