"""A small engine with opinions of its own, and a bench that answers what it was told to."""

from dataclasses import dataclass, field
from itertools import count

from ohmwright.circuit import Board, Feed
from ohmwright.diagnosis.answer import Claim, Diagnosis, Level, Reason, Sign, Suspect
from ohmwright.facts import HANDHELD, Deed, Facts, HeatFinding, LookFinding, Meter, Quantity
from ohmwright.planning.advice import Advice, Caution, Hump, Step, Test, TestKind
from ohmwright.safety import Notice, Permit, Refusal
from ohmwright.storage import MemoryCases
from ohmwright.usecases.desk import Desk, Engine, Thought

READ = Test(
    TestKind.DIODE, "Read VIN in diode mode", "it divides the suspects",
    (Step("read", "diode", "VIN", "GND"),), 0.5, 0.0, 1.0, 3.0,
    humps=(Hump("none", "healthy", 0.5, 0.40, 0.50), Hump("C1:short", "C1 shorted", 0.5, 0.0, 0.01)),
    cautions=(Caution("discharge", "Discharge first; local rules apply."),),
)  # fmt: skip
LIFT = Test(
    TestKind.TAKE_OFF, "Take C1 off and read it", "it settles C1",
    (Step("take off", parts=("C1",)), Step("read", "part ohms", "C1.1", "C1.2")), 6.0, 1.0, 1.0, 1.0,
)  # fmt: skip
FEED = Test(
    TestKind.FEED, "Feed 5 V", "not permitted here",
    (Step("feed", feed=Feed("VIN", "GND", 5.0, 1.0)),), 1.0, 0.0, 1.0, 1.0,
)  # fmt: skip


def fake_think(board: Board, facts: Facts) -> Thought:
    """Suspects C1 when VIN reads near zero; proves it when it is off and low by itself."""
    low = [r for r in facts.readings if r.quantity is Quantity.DIODE and r.value is not None and r.value < 0.05]
    off = [a for a in facts.acts if a.deed is Deed.TOOK_OFF]
    loose = [r for r in facts.readings if r.quantity is Quantity.PART_OHMS]
    share = 0.9 if low else 0.5
    reasons = tuple(Reason(r.key, "VIN is near zero", 2.0) for r in low)
    suspects = (
        Suspect("C1:short", "C1", "short", ("C1.1", "C1.2"), "C1 shorted", share, reasons=reasons),
        Suspect("C2:short", "C2", "short", ("C2.1", "C2.2"), "C2 shorted", 1 - share),
    )
    if low and off and loose:
        signs = (Sign("it reads low by itself", (loose[-1].key,)), Sign("VIN was low with it on", (low[0].key,)))
        claims = (Claim(Level.PROVEN, "C1", "C1 is shorted", signs),)
        return Thought(Diagnosis(suspects, (), claims), Advice((), stop="proven"))
    tests = (LIFT,) if low else (FEED, READ) if FEED.title not in facts.skipped else (READ,)
    return Thought(Diagnosis(suspects, (), ()), Advice(tests))


def fake_permit(board: Board, facts: Facts, feed: Feed) -> Permit | Refusal:
    """Two gates in a row above 0.8 V, and one above 60 V that nobody passes."""
    passed = {override.gate for override in facts.overrides}
    if feed.volts > 60:
        return Refusal("high volts", "over 60 V", "hand it to a qualified person")
    for gate in ("first feed", "coils"):
        if feed.volts > 0.8 and gate not in passed:
            return Refusal(gate, "more than 0.8 V", "measure first", overridable=True)
    return Permit(feed, (Notice("eyes", "Shield your eyes; local rules apply."),))


def fake_desk() -> Desk:
    """A desk in memory whose clock ticks by ones."""
    ticks = count(1)
    return Desk(MemoryCases(), Engine(fake_think, fake_permit), lambda: f"tick {next(ticks)}", "kim")


@dataclass
class FakeBench:
    """Answers readings from a table and remembers what was done to it."""

    values: dict[str, float | None]
    done: list[str] = field(default_factory=list)
    meter: Meter = HANDHELD
    heat_method: str = "finger"

    def read(self, quantity: str, red: str, black: str) -> float | None:
        return self.values[quantity]

    def feed(self, permit: Permit) -> None:
        self.done.append("feed")

    def feed_off(self) -> None:
        self.done.append("feed off")

    def discharge(self) -> None:
        self.done.append("discharge")

    def look(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], LookFinding]:
        return parts, LookFinding.NOTHING

    def heat(self, parts: tuple[str, ...]) -> tuple[tuple[str, ...], HeatFinding]:
        return parts[:1], HeatFinding.PART

    def take_off(self, part: str) -> None:
        self.done.append(f"off {part}")

    def refit(self, part: str) -> None:
        self.done.append(f"refit {part}")

    def replace(self, part: str) -> None:
        self.done.append(f"replace {part}")

    def clean(self, part: str) -> None:
        self.done.append(f"clean {part}")

    def reflow(self, part: str) -> None:
        self.done.append(f"reflow {part}")

    def entry(self, net: str) -> tuple[float | None, bool, bool]:
        return 24.0, True, True

    def tried(self) -> bool:
        return True
