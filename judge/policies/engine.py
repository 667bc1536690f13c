"""The engine, through the same road as a user's case: open it, do what is advised, enter it, think again."""

from __future__ import annotations

import time
from dataclasses import replace

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
    """Follows the first advice to its end.

    Attributes
    ----------
    first : float
        Processor seconds to the first advice. [s]
    steps : list of (float, int, int)
        Of each later one: processor seconds without those of the bench, readings before, parts newly off. [s]
    ever : list of ClaimMade
        Every claim made on the way, each once.
    """

    def __init__(self, sitting: Sitting) -> None:
        self.sitting, self.bench = sitting, sitting.bench
        self.port = BenchPort(sitting.bench)
        self.desk = replace(bootstrap.desk_at(memory=True, author="judge"), meter=sitting.bench.meter)
        began = time.process_time()
        self.view: CaseView = open_case(self.desk, CASE, sitting.board)
        self._acted = (time.process_time() - began, 0, 0)
        self.first = 0.0
        self.steps: list[tuple[float, int, int]] = []
        self.ever: list[ClaimMade] = []
        self.at: list[tuple[int, Stated]] = []
        self.stop = ""
        self.undecidable = False
        self.log: list[str] = []

    def run(self) -> None:
        """Advice by advice."""
        for _ in range(MOST):
            advice = self.thought()
            self._mark()
            self._say(advice)
            if advice.stop or not advice.tests:
                self._end(advice)
                return
            self._do(self.chosen(advice))
        self.stop = f"still going after {MOST} advices"

    def thought(self) -> Advice:
        """The advice as things stand. What is thought is thought here, so here it is timed and claims are kept."""
        began = time.process_time()
        advice = self.view.advice
        self._remember()
        acted, readings, off = self._acted
        seconds = round(acted + time.process_time() - began, 4)
        if self.first == 0.0:
            self.first = seconds
        else:
            self.steps.append((seconds, readings, off))
        return advice

    def chosen(self, advice: Advice) -> Test:
        """The test taken of those advised."""
        return advice.tests[0]

    def _end(self, advice: Advice) -> None:
        self.stop = advice.stop or "no test left"
        self.undecidable = "not decidable" in self.stop

    def _do(self, test: Test) -> None:
        before, readings, off = self.bench.minutes, self.bench.readings, self.bench.state.off
        began, spent = time.process_time(), self.port.spent
        try:
            self.view = run_test(self.desk, CASE, test, self.port)
        except RefusedError as error:
            self._tell(f"    refused: {error}")
            self.view = skip(self.desk, CASE, test.title)
        acted = time.process_time() - began - (self.port.spent - spent)
        self._acted = (acted, readings, len(self.bench.state.off - off))
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

    def _remember(self) -> None:
        """Keep what is claimed now, for what is claimed on the way counts too."""
        known = {(c.level, c.part, c.covers) for c in self.ever}
        for claim in claims_of(self.view.diagnosis):
            if claim.level != "open" and (claim.level, claim.part, claim.covers) not in known:
                self.ever.append(claim)

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
        claims = claims_of(diagnosis)
        return Answer(self.stop, top_of(diagnosis), claims, self.undecidable, tuple(self.at), tuple(self.log))


def claims_of(diagnosis: Diagnosis) -> tuple[ClaimMade, ...]:
    """The engine's claims in the judge's terms, with the suspects' probabilities left out."""
    return tuple(
        ClaimMade(c.level.value, c.part, _covered(diagnosis, c.part, c.words), MORE in c.words)
        for c in diagnosis.claims
    )


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
    covered = [s for s in diagnosis.suspects if part and part in s.part.split("+")]
    for group in diagnosis.groups:
        if group.words == words:
            covered = [by_key[key] for key in group.members if key in by_key]
            break
    return tuple(replace(named(s), probability=0.0) for s in covered)
