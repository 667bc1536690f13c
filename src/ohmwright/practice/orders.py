"""What the hands of the bench are told: one JSON object each, answered by one."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping

from ohmwright.errors import DataError, OhmwrightError, UnknownNameError
from ohmwright.formats.board_json import board_to_json
from ohmwright.practice.scpi import MeterVoice
from ohmwright.practice.world import World

Answer = dict[str, object]
MOST_PARTS = 20_000


class Orders:
    """The hands at a world, and where they hold the probes of its meter."""

    def __init__(self, world: World, meter: MeterVoice) -> None:
        self._world, self._meter = world, meter
        self._acts: Mapping[str, Callable[[Answer], Answer | None]] = {
            "board": lambda _: {"board": board_to_json(world.board)},
            "probe": self._probe,
            "lift": lambda _: self._lift(),
            "clip": lambda a: world.clip(_text(a, "plus"), _text(a, "minus")),
            "take off": lambda a: world.take_off(_text(a, "target")),
            "refit": lambda a: world.refit(_text(a, "target")),
            "replace": lambda a: world.replace(_text(a, "target")),
            "clean": lambda a: world.clean(_text(a, "target")),
            "reflow": lambda a: world.reflow(_text(a, "target")),
            "bridge": lambda a: world.bridge(_text(a, "a"), _text(a, "b")),
            "look": self._look,
            "heat": self._heat,
            "discharge": lambda _: world.discharge(),
            "try": lambda _: {"works": world.try_board()},
            "entry": self._entry,
            "story": lambda _: {"words": world.fault.words},
            "truth": self._truth,
        }

    def answer(self, line: str) -> str:
        """The answer to one line."""
        try:
            return json.dumps({"ok": True, **(self._obey(line) or {})})
        except OhmwrightError as error:
            return json.dumps({"ok": False, "what": error.what, "hint": error.hint})

    def _obey(self, line: str) -> Answer | None:
        try:
            asked = json.loads(line)
        except (ValueError, RecursionError) as error:
            raise DataError("This is not JSON.", hint="one object per line") from error
        if not isinstance(asked, dict):
            raise DataError("This is no object.", hint='as in {"do": "discharge"}')
        what = _text(asked, "do")
        if what not in self._acts:
            raise UnknownNameError.among("thing to do", what[:80], self._acts)
        return self._acts[what](asked)

    def _probe(self, asked: Answer) -> None:
        red, black, loose = _text(asked, "red"), _text(asked, "black"), asked.get("loose") is True
        for point in (red, black):
            self._world.board.net_at(point) if not loose else self._pin(point)
        self._meter.red, self._meter.black, self._meter.loose = red, black, loose
        self._meter.fresh = True

    def _lift(self) -> None:
        """Both probes in the air."""
        self._meter.red = self._meter.black = ""

    def _pin(self, point: str) -> None:
        name, _, number = point.rpartition(".")
        self._world.board.part(name).pin(number)

    def _look(self, asked: Answer) -> Answer:
        found = self._world.look(_texts(asked, "parts"))
        return {"found": {name: finding.value for name, finding in found.items() if finding.value != "nothing"}}

    def _heat(self, asked: Answer) -> Answer:
        method = _text(asked, "method") if "method" in asked else "finger"
        finding, parts = self._world.feel(method)
        wanted = set(_texts(asked, "parts")) if asked.get("parts") else set(parts)
        felt = [name for name in parts if name in wanted]
        return {"finding": finding.value if felt else "nothing", "parts": felt}

    def _entry(self, asked: Answer) -> Answer:
        net = self._world.board.net(_text(asked, "net"))
        return {"label_volts": net.nominal, "polarity_measured": True, "battery_off": True}

    def _truth(self, _: Answer) -> Answer:
        return {"parts": list(dict.fromkeys(self._faulty())), "harm": sorted({h.net for h in self._world.hurt})}

    def _faulty(self) -> Iterator[str]:
        """Faulty parts; where the copper is dirty no part is, and its nets are named."""
        ground = self._world.board.ground
        for defect in self._world.fault.defects:
            if defect.mode == "dirt":
                yield from (net for net in self._world.specimen.nets_of(defect) if net not in (None, ground))
            else:
                yield defect.part


def _text(asked: Answer, name: str) -> str:
    found = asked.get(name)
    if not isinstance(found, str) or not found:
        raise DataError(f"The text {name!r} is missing.", hint=f'add "{name}": "..."')
    return found


def _texts(asked: Answer, name: str) -> tuple[str, ...]:
    found = asked.get(name)
    if not isinstance(found, list) or len(found) > MOST_PARTS or not all(isinstance(item, str) for item in found):
        raise DataError(f"{name!r} is no list of texts.", hint=f'add "{name}": ["..."]')
    return tuple(found)
