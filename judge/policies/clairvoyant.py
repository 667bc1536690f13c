"""F: knows what is wrong, and still has to prove it to somebody who does not."""

from __future__ import annotations

from judge.policies.answer import Answer, ClaimMade, Named, Sitting, Stated
from judge.world import Fault
from ohmwright.facts import Quantity


class Clairvoyant:
    """The least that a proof costs: the reading before, the part off, the reading after, the part by itself."""

    def __init__(self, sitting: Sitting) -> None:
        assert sitting.truth is not None, "the clairvoyant must be told the truth"
        self.sitting, self.bench, self.case = sitting, sitting.bench, sitting.truth
        self.done: list[Fault] = []

    def run(self) -> None:
        """Fault by fault."""
        self._start()
        for fault in self.case.faults:
            if fault.part not in {f.part for f in self.done} and fault.part not in self.case.hidden:
                self._prove(fault)
            self.done.append(fault)

    def _start(self) -> None:
        board = self.sitting.board
        self.bench.entry(next(iter((*board.entries, board.ground))))

    def _prove(self, fault: Fault) -> None:
        red, black = self._points(fault)
        self.bench.read(Quantity.OHMS, red, black)
        if fault.kind in ("joint", "dirt"):
            cure = self.bench.reflow if fault.kind == "joint" else self.bench.clean
            cure(fault.part)
            self.bench.read(Quantity.OHMS, red, black)
            self.bench.try_board()
            return
        self.bench.take_off(fault.part)
        self.bench.read(Quantity.OHMS, red, black)
        if fault.a != fault.b:
            self.bench.read_loose(fault.part, fault.a, fault.b, Quantity.PART_OHMS)

    def _points(self, fault: Fault) -> tuple[str, str]:
        part = self.sitting.board.part(fault.part)
        ground = self.sitting.board.ground
        nets = [part.pin(n).net for n in (fault.a, fault.b)]
        red = nets[0] or part.nets[0]
        others = [net for net in (nets[1], ground, *part.nets) if net is not None and net != red]
        black = others[0] if others else ground
        return (black, red) if red == ground else (red, black)

    def answer(self) -> Answer:
        """Every culprit proven; a hidden one named by its net."""
        if not self.case.faults:
            return Answer("nothing wrong", Stated((Named((), "none", (), 1.0),), 1.0))
        mapped = tuple(dict.fromkeys(f.part for f in self.case.faults if f.part not in self.case.hidden))
        hidden = [f for f in self.case.faults if f.part in self.case.hidden]
        where = tuple(net for f in hidden for net in f.nets(self.case.world))
        first = self.case.faults[0]
        mode = "unmapped" if hidden and not mapped else _mode(first)
        pins = where if hidden else (f"{first.part}.{first.a}", f"{first.part}.{first.b}")
        top = Named(mapped, mode, pins, 1.0)
        proven = [part for part in mapped if part in {f.part for f in self.done}]
        claims = [ClaimMade("proven", part, (top,), more=bool(hidden)) for part in proven]
        if hidden:
            claims.append(ClaimMade("likely", "", (top,)))
        return Answer("proven", Stated((top,), 1.0), tuple(claims))


def _mode(fault: Fault) -> str:
    return {"knee": "short", "joint": "open", "reversed": "drift", "dirt": "leak"}.get(fault.kind, fault.kind)
