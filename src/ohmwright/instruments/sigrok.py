"""Hand-held meters through sigrok-cli, a program of its own, where it is installed.

It writes one line for each reading, ``P1: 0.425 V DC DIODE AUTO``: channel, figures with as many digits as the meter
shows, unit with a prefix, and what else is lit, as its ``analog`` output does; ``inf`` stands for OL.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
from collections.abc import Sequence

from ohmwright.errors import InstrumentError
from ohmwright.facts import HANDHELD, Quantity
from ohmwright.quantities import PREFIX
from ohmwright.usecases.capture import Sample

LINE = re.compile(
    r"[\w.-]{1,20}:\s+([+-]?(?:\d{1,12}(?:\.\d{0,12})?|inf|nan))\s*([pnuµμmkMG]?)(V|A|Ω|ohm|Ohm)((?:\s+[\w-]+)*)\s*\Z"
)
"""A reading of volts, amperes or ohms; other units are of no use here."""
STALE = 3.0
"""A reading older than this is of no use. [s]"""
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

    Parameters
    ----------
    driver : str
        As sigrok-cli wants it: a driver, and where its port is, as in ``uni-t-ut61e:conn=/dev/ttyUSB0``.
    command : sequence of str
        The program; sigrok-cli by default.
    """

    def __init__(self, driver: str, command: Sequence[str] = ("sigrok-cli",)) -> None:
        if not DRIVER.match(driver):
            raise InstrumentError(f"{driver[:60]!r} is no driver.", hint="list them with: sigrok-cli --list-supported")
        if shutil.which(command[0]) is None:
            raise InstrumentError(f"{command[0]} is not installed.", hint="install sigrok-cli, or type what it shows")
        self.model = HANDHELD
        self._driver, self._latest, self._news = driver, None, threading.Condition()
        self._process = subprocess.Popen(
            [*command, "--driver", driver, "--continuous"], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL, text=True, encoding="utf-8", errors="replace",
        )  # fmt: skip
        threading.Thread(target=self._listen, name="sigrok", daemon=True).start()

    _latest: tuple[Quantity, Sample] | None
    _count = 0
    _seen = 0

    def sample(self, quantity: Quantity, at: float) -> Sample:
        """The next reading, stamped with the time it is asked for. [s]

        Raises
        ------
        InstrumentError
            If the meter is silent, or stands in another mode.
        """
        with self._news:
            self._news.wait_for(lambda: self._count > self._seen or self._process.poll() is not None, STALE)
            found, fresh = self._latest, self._count > self._seen
            self._seen = self._count
        if found is None or not fresh:
            raise InstrumentError(
                "The meter sends nothing.", where=f"sigrok:{self._driver}", hint="switch its data output on"
            )
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
        self._process.terminate()
        try:
            self._process.wait(3.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        if self._process.stdout:
            self._process.stdout.close()

    def _listen(self) -> None:
        stream = self._process.stdout
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
