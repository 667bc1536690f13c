"""Hand-held meters through sigrok-cli, a program of its own, where it is installed.

It writes one line for each reading, ``P1: 0.425 V DC DIODE AUTO``: channel, figures with as many digits as the meter
shows, unit with a prefix, and what else is lit, as its ``analog`` output does; ``inf`` stands for OL.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
import time
from collections.abc import Sequence

from ohmwright.errors import InstrumentError
from ohmwright.facts import HANDHELD, Meter, Quantity
from ohmwright.instruments.one_user import OneUser
from ohmwright.quantities import PREFIX
from ohmwright.usecases.capture import Sample

LINE = re.compile(
    r"[\w.-]{1,20}:\s+([+-]?(?:\d{1,12}(?:\.\d{0,12})?|inf|nan))\s*([pnuµμmkMG]?)(V|A|Ω|ohm|Ohm)((?:\s+[\w-]+)*)\s*\Z"
)
"""A reading of volts, amperes or ohms; other units are of no use here."""
STALE = 3.0
"""A reading older than this is of no use. [s]"""
PATIENCE = 20.0
"""How long a scan may take. [s]"""
AGAIN_EVERY = 1.0
"""Time between two scans for a meter whose cable was pulled. [s]"""
PROGRAM = ("sigrok-cli",)
FOUND = re.compile(r"([\w-]{2,40}(?::\S{1,100})?) - (.{1,120}?) with \d{1,3} channels?:")
"""A line of a scan, as in ``demo - Demo device with 13 channels: D0 D1``: sigrok-cli 0.7.2 wrote it so."""
DRIVER = re.compile(r"[\w-]{2,40}(?::[\w=/.,-]{0,100})*\Z")


def parse_line(line: str, at: float) -> tuple[Quantity, Sample] | None:
    """What a line says, or None where it is of another kind. [s]

    Examples
    --------
    >>> parse_line("P1: 0.425 V DC DIODE AUTO", 1.0)
    (<Quantity.DIODE: 'diode'>, Sample(at=1.0, value=0.425, overload=False, held=False, step=0.001))
    >>> parse_line("P1: inf MΩ AUTO", 2.0)
    (<Quantity.OHMS: 'ohms'>, Sample(at=2.0, value=None, overload=True, held=False, step=0.0))
    """
    match = LINE.match(line.strip()[:200])
    if match is None:
        return None
    figures, prefix, unit, lit = match[1], match[2], match[3], match[4].split()
    if unit == "A" or "AC" in lit or figures.endswith("nan"):
        return None
    quantity = Quantity.OHMS if unit != "V" else Quantity.DIODE if "DIODE" in lit else Quantity.VOLTS
    if figures.endswith("inf"):
        return quantity, Sample(at, None, overload=True, held="HOLD" in lit)
    scale, decimals = PREFIX[prefix], len(figures.partition(".")[2])
    value, step = float(f"{float(figures) * scale:.12g}"), float(f"{10.0**-decimals * scale:.6g}")
    return quantity, Sample(at, value, held="HOLD" in lit, step=step)


class SigrokMeter:
    """A hand-held meter that sends what it shows. Its mode is set at its own dial.

    It has one user at a time. Before it is listened to it is asked for by a scan, and after its cable was pulled it is
    listened to again only if the same thing answers the scan.

    Parameters
    ----------
    driver : str
        As sigrok-cli wants it: a driver, and where its port is, as in ``uni-t-ut61e:conn=/dev/ttyUSB0``.
    command : sequence of str
        The program; sigrok-cli by default.
    model : Meter
        What the meter claims of itself; it sends figures only.
    """

    def __init__(self, driver: str, command: Sequence[str] = PROGRAM, model: Meter = HANDHELD) -> None:
        if not DRIVER.match(driver):
            raise InstrumentError(f"{driver[:60]!r} is no driver.", hint="list them with: sigrok-cli --list-supported")
        self.model, self._driver, self._command = model, driver, tuple(command)
        self._latest, self._news, self._one = None, threading.Condition(), threading.Lock()
        self._user = OneUser(f"sigrok:{driver}")
        try:
            self.identity = self._scanned()
            self._process = self._started()
        except InstrumentError:
            self._user.leave()
            raise

    _latest: tuple[Quantity, Sample] | None
    _count = 0
    _seen = 0
    _tried = 0.0
    outages = 0

    def sample(self, quantity: Quantity, at: float) -> Sample:
        """The next reading, stamped with the time it is asked for. [s]

        Raises
        ------
        InstrumentError
            If the meter is silent, or stands in another mode.
        """
        self._take_up_again()
        with self._news:
            self._news.wait_for(lambda: self._count > self._seen or self._process.poll() is not None, STALE)
            found, fresh = self._latest, self._count > self._seen
            self._seen = self._count
        if found is None or not fresh:
            raise InstrumentError(
                "The meter sends nothing.", where=f"sigrok:{self._driver}",
                hint="check its cable, and switch its data output on; it is listened to again by itself",
            )  # fmt: skip
        wanted = {Quantity.PART_OHMS: Quantity.OHMS, Quantity.PART_DIODE: Quantity.DIODE}.get(quantity, quantity)
        if found[0] is not wanted:
            raise InstrumentError(
                f"The meter stands on {found[0].value}.",
                where=f"sigrok:{self._driver}",
                hint=f"turn it to {wanted.value}",
            )  # fmt: skip
        sample = found[1]
        return Sample(at, sample.value, sample.overload, sample.held, sample.step)

    def read(self, quantity: Quantity) -> float | None:
        """What the display shows, in SI units; None where it shows OL."""
        sample = self.sample(quantity, 0.0)
        if sample.held:
            raise InstrumentError("The meter is on hold.", hint="release it")
        return sample.value

    def close(self) -> None:
        """Let the meter go."""
        self._end()
        self._user.leave()

    def _take_up_again(self) -> None:
        """Where the program has ended, as it does when a cable is pulled: ask for the same meter, and listen again."""
        with self._one:
            if self._process.poll() is None or time.monotonic() - self._tried < AGAIN_EVERY:
                return
            self._tried = time.monotonic()
            found = self._scanned()
            if found != self.identity:
                raise InstrumentError(
                    f"Another meter answers now: {found[:80]!r}.", where=f"sigrok:{self._driver}",
                    why=f"it was {self.identity!r}", hint="connect the right one, or begin again with this one",
                )  # fmt: skip
            self._end()
            with self._news:
                self._latest, self._seen = None, self._count
            self.outages += 1
            self._process = self._started()

    def _scanned(self) -> str:
        found = scanned(self._driver, self._command)
        if not found:
            raise InstrumentError(
                "No meter answers.", where=f"sigrok:{self._driver}",
                hint="check its cable, that it is on, and that its data output is switched on",
            )  # fmt: skip
        return found[0][1]

    def _started(self) -> subprocess.Popen[str]:
        # An open pipe: at the end of its input sigrok-cli stops, as at a key that is pressed.
        process = subprocess.Popen(
            [*self._command, "--driver", self._driver, "--continuous"], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, encoding="utf-8", errors="replace",
        )  # fmt: skip
        threading.Thread(target=self._listen, args=(process,), name="sigrok", daemon=True).start()
        return process

    def _end(self) -> None:
        self._process.terminate()
        try:
            self._process.wait(3.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        for stream in (self._process.stdin, self._process.stdout):
            if stream:
                stream.close()

    def _listen(self, process: subprocess.Popen[str]) -> None:
        stream = process.stdout
        while stream is not None:
            try:
                line = stream.readline(400)
            except ValueError:
                return  # closed
            if not line:
                with self._news:
                    self._news.notify_all()
                return
            found = parse_line(line, 0.0)
            if found is not None:
                with self._news:
                    self._latest, self._count = found, self._count + 1
                    self._news.notify_all()


def scanned(driver: str = "", command: Sequence[str] = PROGRAM) -> tuple[tuple[str, str], ...]:
    """What a scan finds: how sigrok-cli is told of each, and what it says it is; for one driver, or for all that can
    be looked for without being told a port.

    Raises
    ------
    InstrumentError
        If the program is not there, does not know the driver, or does not end.
    """
    if shutil.which(command[0]) is None:
        raise InstrumentError(f"{command[0]} is not installed.", hint="install sigrok-cli, or type what it shows")
    try:
        done = subprocess.run(
            [*command, *(("--driver", driver) if driver else ()), "--scan"], stdin=subprocess.DEVNULL,
            capture_output=True, text=True, encoding="utf-8", errors="replace", timeout=PATIENCE, check=False,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as error:
        raise InstrumentError("sigrok-cli does not answer.", where=f"sigrok:{driver}", why=str(error)) from error
    if done.returncode:
        raise InstrumentError(
            "sigrok-cli does not look for that.", where=f"sigrok:{driver}", why=done.stderr.strip()[:200],
            hint="list drivers with: sigrok-cli --list-supported",
        )  # fmt: skip
    found = (FOUND.match(line) for line in done.stdout.splitlines())
    return tuple((match[1], match[2].strip()) for match in found if match)
