"""The practice bench, started as a process of its own and reached over loopback sockets only."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from importlib import import_module
from typing import IO

from ohmwright.circuit import Board
from ohmwright.errors import InstrumentError, RefusedError
from ohmwright.facts import HANDHELD, HeatFinding, LookFinding, Quantity
from ohmwright.formats.board_json import board_from_json
from ohmwright.instruments.hands import Hands
from ohmwright.instruments.scpi_line import ScpiLine
from ohmwright.instruments.scpi_meter import ScpiMeter
from ohmwright.instruments.scpi_supply import ScpiSupply
from ohmwright.safety import Permit

HOST = "127.0.0.1"
LAST_WORDS = 4_000
"""Characters kept of what a bench says when it dies. [1]"""
FAREWELL = 5.0
"""How long the process may take to end. [s]"""
LOOSE = (Quantity.PART_OHMS, Quantity.PART_DIODE)


class LocalBench:
    """A practice board with a meter, a supply and hands. Fits `usecases.run_test.PracticeBench`.

    Parameters
    ----------
    process : Popen
        The bench; it ends when its standard input closes.
    ports : dict
        Port numbers of ``meter``, ``supply`` and ``hands``, and the ``seed``.
    """

    def __init__(self, process: subprocess.Popen[str], ports: dict[str, int]) -> None:
        self._process = process
        self._hands = Hands(HOST, ports["hands"])
        self._meter = ScpiMeter(ScpiLine.at_socket(HOST, ports["meter"]), HANDHELD)
        self._supply = ScpiSupply(ScpiLine.at_socket(HOST, ports["supply"]))
        self.meter = self._meter.model
        self.heat_method = "finger"
        self.seed = ports["seed"]
        self.supply_address = f"TCPIP0::{HOST}::{ports['supply']}::SOCKET"
        self.board: Board = board_from_json(self._hands.do("board")["board"])

    def read(self, quantity: str, red: str, black: str) -> float | None:
        """What the meter or the supply's display shows, in SI units; None for OL."""
        wanted = Quantity(quantity)
        if wanted in (Quantity.SUPPLY_VOLTS, Quantity.SUPPLY_AMPS):
            shown = self._supply.measure()
            return shown.volts if wanted is Quantity.SUPPLY_VOLTS else shown.amps
        self._hands.do("probe", red=red, black=black, loose=wanted in LOOSE)
        return self._meter.read(wanted)

    def clip(self, permit: Permit) -> None:
        """Clip the supply on where the permit says, output off; somebody else switches it on."""
        self._supply.off()
        self._hands.do("clip", plus=permit.feed.plus, minus=permit.feed.minus)

    def feed(self, permit: Permit) -> None:
        """Clip the supply on and switch it on at exactly what the permit allows."""
        if not isinstance(permit, Permit):
            raise RefusedError("No supply goes on without a permit.", hint="ask safety.permit first")
        self.clip(permit)
        self._supply.on(permit)

    def feed_off(self) -> None:
        """Switch the supply off."""
        self._supply.off()

    def discharge(self) -> None:
        """Discharge the board."""
        self._hands.do("discharge")

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        """The parts that show the most telling of all findings; all of them with `nothing` if none shows any."""
        found = self._hands.do("look", parts=list(parts))["found"]
        seen = {str(k): LookFinding(str(v)) for k, v in found.items()} if isinstance(found, dict) else {}
        telling = next((f for f in LookFinding if f is not LookFinding.NOTHING and f in seen.values()), None)
        if telling is None:
            return parts, LookFinding.NOTHING
        return tuple(part for part in parts if seen.get(part) is telling), telling

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        """Where heat can be felt and how sharply; all over the board if no parts are named."""
        answer = self._hands.do("heat", parts=list(parts))
        return _names(answer.get("parts")), HeatFinding(str(answer["finding"]))

    def take_off(self, part: str) -> None:
        """Take a part off."""
        self._hands.do("take off", target=part)

    def refit(self, part: str) -> None:
        """Put the same part back."""
        self._hands.do("refit", target=part)

    def replace(self, part: str) -> None:
        """Fit a new part."""
        self._hands.do("replace", target=part)

    def clean(self, part: str) -> None:
        """Clean a part or the copper of a net."""
        self._hands.do("clean", target=part)

    def reflow(self, part: str) -> None:
        """Melt the joints of a part again."""
        self._hands.do("reflow", target=part)

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        """Label volts, polarity measured, battery off. [V]"""
        answer = self._hands.do("entry", net=net)
        volts = answer["label_volts"]
        label = float(volts) if isinstance(volts, int | float) else None
        return label, bool(answer["polarity_measured"]), bool(answer["battery_off"])

    def tried(self) -> bool:
        """Whether the board works."""
        return bool(self._hands.do("try")["works"])

    def truth(self) -> tuple[str, ...]:
        """Names of the parts that are truly faulty."""
        return _names(self._hands.do("truth")["parts"])

    def harm(self) -> tuple[str, ...]:
        """Nets that were ever fed more than they stand."""
        return _names(self._hands.do("truth")["harm"])

    def close(self) -> None:
        """End the process that plays the bench."""
        with ExitStack() as ending:
            ending.callback(_end, self._process)
            ending.callback(self._hands.close)
            ending.callback(self._meter.close)
            ending.callback(self._supply.close)


def open_bench(
    board: str | None = None,
    fault: str | None = None,
    seed: int | None = None,
    *,
    running: bool = False,
    meanwhile: Callable[[], object] | None = None,
) -> LocalBench:
    """Start a practice bench.

    Parameters
    ----------
    board, fault : str or None
        A name or a path; None or "" lets the seed draw.
    seed : int or None
        Draws board, fault, true values and meter errors; the bench draws one itself if none is given. [1]

    running : bool
        Whether switching converters start when they are fed. Off, because what they warm and draw is not in the
        program's account of a board.
    meanwhile : callable or None
        What else is done while it starts.

    Raises
    ------
    InstrumentError
        If the bench does not start, with its own words.
    """
    command = [sys.executable, "-m", "ohmwright.practice"]
    command += [f"--board={board}"] if board else []
    command += [f"--fault={fault}"] if fault else []
    command += [f"--seed={seed}"] if seed is not None else []
    command += [] if running else ["--resting"]
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8"
    )
    try:
        # The line to it is loaded while it starts: either takes half a second.
        import_module("pyvisa_py")
        if meanwhile is not None:
            meanwhile()
        return LocalBench(process, _ports(process))
    except BaseException:
        _end(process)
        raise


def _ports(process: subprocess.Popen[str]) -> dict[str, int]:
    line = process.stdout.readline(LAST_WORDS) if process.stdout else ""
    try:
        told = json.loads(line)
        return {name: int(told[name]) for name in ("meter", "supply", "hands", "seed")}
    except (ValueError, KeyError, TypeError) as error:
        _close_stdin(process.stdin)
        said = process.stderr.read(LAST_WORDS) if process.stderr else ""
        raise InstrumentError(
            "The practice bench did not start.",
            why=said.strip() or line.strip(),
            hint="list boards and faults with: python -m ohmwright.practice --list",
        ) from error


def _end(process: subprocess.Popen[str]) -> None:
    _close_stdin(process.stdin)
    try:
        process.wait(FAREWELL)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    for stream in (process.stdout, process.stderr):
        if stream:
            stream.close()


def _close_stdin(stream: IO[str] | None) -> None:
    if stream:
        try:
            stream.close()
        except BrokenPipeError:
            return


def _names(found: object) -> tuple[str, ...]:
    return tuple(str(name) for name in found) if isinstance(found, Sequence) and not isinstance(found, str) else ()
