"""The bench's meter and supply as they speak: lines of SCPI, a small part of SCPI-99 (volume 1).

Every header must be whole after a semicolon. Errors carry the numbers of SCPI-99, volume 2, section 21.8.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Mapping

from ohmwright.errors import OhmwrightError
from ohmwright.facts import Quantity
from ohmwright.practice.world import World

INFINITY = "9.9E37"
NOT_A_NUMBER = "9.91E37"
LONGEST = 1_000
"""Characters in one line. [1]"""
QUEUE = 20
"""Errors kept. [1]"""
WORDS = {
    -102: "Syntax error",
    -104: "Data type error",
    -108: "Parameter not allowed",
    -109: "Missing parameter",
    -113: "Undefined header",
    -221: "Settings conflict",
    -222: "Data out of range",
    -350: "Queue overflow",
}
Handler = Callable[[str], "str | None"]


class ScpiError(Exception):
    """An error for the queue: its number, and words of our own after the standard ones."""

    def __init__(self, number: int, more: str = "") -> None:
        super().__init__(number, more)
        self.number, self.more = number, more


class Speaker:
    """An instrument that answers lines.

    Parameters
    ----------
    identity : str
        What it answers to ``*IDN?``.
    commands : mapping of str to callable
        Headers as SCPI writes them (``CONFigure:VOLTage[:DC]``) and what each does with its parameter.
    """

    def __init__(self, identity: str, commands: Mapping[str, Handler]) -> None:
        common: dict[str, Handler] = {
            "*IDN?": lambda _: identity,
            "*CLS": self._clear,
            "*OPC?": lambda _: "1",
            "SYSTem:ERRor[:NEXT]?": self._next_error,
        }
        self._commands = [(_pattern(header), header, act) for header, act in (common | dict(commands)).items()]
        self._errors: deque[str] = deque()

    def answer(self, line: str) -> str | None:
        """What it answers to a line, or None for silence. Errors go into its queue."""
        if len(line) > LONGEST:
            self.complain(ScpiError(-102, "line too long"))
            return None
        answers = [
            found for unit in line.split(";") if unit.strip() and (found := self._unit(unit.strip())) is not None
        ]
        return ";".join(answers) if answers else None

    def _unit(self, unit: str) -> str | None:
        header, _, parameter = unit.partition(" ")
        for pattern, written, act in self._commands:
            if pattern.fullmatch(header.lstrip(":")):
                try:
                    if parameter.strip() and written.endswith("?"):
                        raise ScpiError(-108)
                    return act(parameter.strip())
                except ScpiError as error:
                    self.complain(error)
                    return None
        self.complain(ScpiError(-113, header[:40]))
        return None

    def complain(self, error: ScpiError) -> None:
        """Put an error into the queue."""
        if len(self._errors) >= QUEUE:
            self._errors[-1] = f'-350,"{WORDS[-350]}"'
            return
        more = f"; {error.more}" if error.more else ""
        self._errors.append(f'{error.number},"{WORDS[error.number]}{more.translate({34: 39, 10: 32})}"')

    def _next_error(self, _: str) -> str:
        return self._errors.popleft() if self._errors else '0,"No error"'

    def _clear(self, _: str) -> None:
        self._errors.clear()


class MeterVoice:
    """The world's meter. Where its probes are, the hands say."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._mode = Quantity.VOLTS
        self.red = self.black = ""
        self.loose = False
        self.fresh = True
        """Whether the probes were put down since the last reading; a probe that rests makes no new contact."""
        self.speaker = Speaker(
            "ohmwright,practice meter,0,1",
            {
                "CONFigure:DIODe": self._setting(Quantity.DIODE),
                "CONFigure:RESistance": self._setting(Quantity.OHMS),
                "CONFigure:VOLTage[:DC]": self._setting(Quantity.VOLTS),
                "CONFigure?": lambda _: {"diode": "DIOD", "ohms": "RES"}.get(self._mode.value, "VOLT"),
                "READ?": self._read,
            },
        )

    def _setting(self, mode: Quantity) -> Handler:
        def act(parameter: str) -> None:
            if parameter:
                raise ScpiError(-108, "this meter finds its range itself")
            self._mode = mode

        return act

    def _read(self, _: str) -> str:
        if not self.red or not self.black:
            return INFINITY if self._mode is not Quantity.VOLTS else "0"
        loose = {Quantity.OHMS: Quantity.PART_OHMS, Quantity.DIODE: Quantity.PART_DIODE}
        try:
            if not self.fresh:
                self._world.same_touch()
            self.fresh = False
            quantity = loose[self._mode] if self.loose and self._mode in loose else self._mode
            value = self._world.read(quantity, self.red, self.black)
        except OhmwrightError as error:
            # A query always answers, or whoever asked would wait for ever.
            self.speaker.complain(ScpiError(-221, error.what))
            return NOT_A_NUMBER
        return INFINITY if value is None else f"{value:.9G}"


class SupplyVoice:
    """The world's supply."""

    def __init__(self, world: World) -> None:
        self._world = world
        self.speaker = Speaker(
            "ohmwright,practice supply,0,1",
            {
                "[SOURce:]VOLTage[:LEVel]": lambda p: self._set(_number(p), world.limit),
                "[SOURce:]VOLTage[:LEVel]?": lambda _: f"{world.volts:.6G}",
                "[SOURce:]CURRent[:LEVel]": lambda p: self._set(world.volts, _number(p)),
                "[SOURce:]CURRent[:LEVel]?": lambda _: f"{world.limit:.6G}",
                "OUTPut[:STATe]": self._switch,
                "OUTPut[:STATe]?": lambda _: str(int(world.output)),
                # Bit 0: the voltage is not held, because the current is (SCPI-99, volume 1, chapter 20; from memory).
                "STATus:QUEStionable:CONDition?": lambda _: str(int(world.display()[2])),
                "MEASure[:SCALar]:VOLTage[:DC]?": lambda _: f"{world.display()[0]:.6G}",
                "MEASure[:SCALar]:CURRent[:DC]?": lambda _: f"{world.display()[1]:.6G}",
            },
        )

    def _set(self, volts: float, limit: float) -> None:
        try:
            self._world.set_supply(volts, limit)
        except OhmwrightError as error:
            raise ScpiError(-222, error.what) from error

    def _switch(self, parameter: str) -> None:
        states = {"ON": True, "1": True, "OFF": False, "0": False}
        if not parameter:
            raise ScpiError(-109)
        if parameter.upper() not in states:
            raise ScpiError(-104, "ON or OFF")
        try:
            self._world.switch(states[parameter.upper()])
        except OhmwrightError as error:
            raise ScpiError(-221, error.what) from error


def _pattern(header: str) -> re.Pattern[str]:
    """A header with capitals for the short form and brackets for what may be left out."""
    out = ""
    for word in re.findall(r"[A-Za-z]+|.", header):
        if word.isalpha():
            short = "".join(c for c in word if c.isupper())
            out += f"(?:{short}|{word.upper()})"
        else:
            out += {"[": "(?:", "]": ")?"}.get(word, re.escape(word))
    return re.compile(out, re.IGNORECASE)


def _number(text: str) -> float:
    if not text:
        raise ScpiError(-109)
    if not re.fullmatch(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[Ee][+-]?\d{1,2})?", text):
        raise ScpiError(-104, text[:20])
    return float(text)
