"""The engine, through the same road as a user's case: open it, do what is advised, enter it, think again."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

from judge.bench import Bench
from judge.bench_port import BenchPort
from judge.policies.answer import Answer, ClaimMade, Named, Sitting, Stated
from ohmwright import bootstrap
from ohmwright.diagnosis import Diagnosis
from ohmwright.diagnosis.answer import Suspect
from ohmwright.errors import OhmwrightError, RefusedError
from ohmwright.planning.advice import Advice, Test
from ohmwright.usecases.desk import CaseView, view_of
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.run_test import run_test
from ohmwright.usecases.skip import skip

CASE = "case"
MOST = 150
"""Advices followed before it counts as going in circles. [1]"""
MARKS = (5, 10)
MORE = "something else"


class EnginePolicy:
    """Follows the first advice to its end."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting, self.bench = sitting, sitting.bench
        # The ledger has the methods of a bench, and passes them on to one.
        self.port = BenchPort(cast(Bench, sitting.bench))
        self.desk = replace(bootstrap.desk_at(memory=True, author="judge"), meter=sitting.bench.meter)
        self.view: CaseView = open_case(self.desk, CASE, sitting.board)
        self.at: list[tuple[int, Stated]] = []
        self.stop = ""
        self.undecidable = False
        self.log: list[str] = []

    def run(self) -> None:
        """Advice by advice."""
        for _ in range(MOST):
            advice = self.view.advice
            self._mark()
            self._say(advice)
            if advice.stop or not advice.tests:
                self._end(advice)
                return
            self._do(self.chosen(advice))
        self.stop = f"still going after {MOST} advices"

    def chosen(self, advice: Advice) -> Test:
        """The test taken of those advised."""
        return advice.tests[0]

    def _end(self, advice: Advice) -> None:
        self.stop = advice.stop or "no test left"
        self.undecidable = "not decidable" in self.stop

    def _do(self, test: Test) -> None:
        before = self.bench.minutes
        try:
            self.view = run_test(self.desk, CASE, test, self.port)
        except RefusedError as error:
            self._tell(f"    refused: {error}")
            self.view = skip(self.desk, CASE, test.title)
        if self.sitting.verbose:
            for event in self.bench.events[-len(test.steps) :]:
                shown = "OL" if event.value is None and event.act == "read" else event.value
                what = (event.act, event.quantity or "", event.red, event.black, shown, *event.parts, event.finding)
                self._tell("    " + " ".join(str(w) for w in what if w not in ("", None)))
            self._tell(f"    {self.bench.minutes - before:.1f} min, now {self.bench.minutes:.1f}")

    def _mark(self) -> None:
        for mark in MARKS:
            if self.bench.readings >= mark and mark not in dict(self.at):
                self.at.append((mark, top_of(self.view.diagnosis)))

    def _say(self, advice: Advice) -> None:
        if not self.sitting.verbose:
            return
        for suspect in self.view.diagnosis.suspects[:5]:
            self._tell(f"    {suspect.probability:6.3f}  {suspect.words}  {' '.join(suspect.where)}")
        for claim in self.view.diagnosis.claims:
            self._tell(f"    claim {claim.level.value}: {claim.words}")
        if advice.tests and not advice.stop:
            test = advice.tests[0]
            self._tell(
                f"> {test.title} ({test.minutes:.1f} min, {test.bits:.2f} bit, saves {test.saves:.1f}): {test.why}"
            )
            for other in advice.tests[1:4]:
                worth = f"{other.minutes:.1f} min, {other.bits:.2f} bit, saves {other.saves:.1f}"
                self._tell(f"      or {other.title} ({worth})")
            for refused in advice.refused[:2]:
                self._tell(f"      not permitted: {refused}")
        else:
            self._tell(f"> stop: {advice.stop or 'no test left'}. {advice.would_decide}")

    def _tell(self, text: str) -> None:
        if self.sitting.verbose:
            print(text, flush=True)

    def answer(self) -> Answer:
        """What the case as it stands says."""
        try:
            diagnosis = view_of(self.desk, CASE).diagnosis if self.view.sequence else self.view.diagnosis
        except OhmwrightError:
            diagnosis = self.view.diagnosis
        claims = tuple(
            ClaimMade(c.level.value, c.part, _covered(diagnosis, c.part, c.words), MORE in c.words)
            for c in diagnosis.claims
        )
        return Answer(self.stop, top_of(diagnosis), claims, self.undecidable, tuple(self.at), tuple(self.log))


def named(suspect: Suspect) -> Named:
    """A suspect of the engine in the judge's terms."""
    parts = tuple(part for part in suspect.part.split("+") if part)
    return Named(parts, suspect.mode, suspect.where, suspect.probability)


def top_of(diagnosis: Diagnosis) -> Stated:
    """The likeliest group."""
    by_key = {suspect.key: suspect for suspect in diagnosis.suspects}
    if not diagnosis.groups:
        first = diagnosis.suspects[:1]
        return Stated(tuple(named(s) for s in first), sum(s.probability for s in first))
    group = diagnosis.groups[0]
    return Stated(tuple(named(by_key[key]) for key in group.members if key in by_key), group.probability)


def _covered(diagnosis: Diagnosis, part: str, words: str) -> tuple[Named, ...]:
    """The suspects a claim speaks of: those of the group with its words, else those of its part."""
    by_key = {suspect.key: suspect for suspect in diagnosis.suspects}
    for group in diagnosis.groups:
        if group.words == words:
            return tuple(named(by_key[key]) for key in group.members if key in by_key)
    return tuple(named(s) for s in diagnosis.suspects if part and part in s.part.split("+"))
