"""One case for every policy, many cases in a pool; a policy that crashes loses the case and nothing else."""

from __future__ import annotations

import signal
import subprocess
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from judge.bench import Bench
from judge.cases import Exam, exam_at
from judge.costs import costs
from judge.ledger import CapReached, Ledger
from judge.policies import POLICIES, Answer, Policy, Sitting
from judge.spice import simulator
from judge.verdict import Verdict, outcome
from judge.world import Fault

TOLD = ("F", "oracle")
"""Policies that are told the truth."""
ROOT = Path(__file__).resolve().parents[1]
GUARD = 240.0
"""Seconds of processor time a policy may think in one case, then it counts as unsolved. [s]"""
PATIENCE = 5.0
"""The same on the wall clock, as a multiple: a shared machine is not the policy's fault. [1]"""


class GuardError(BaseException):
    """The wall clock ran out. Not an `Exception`, so that no policy swallows it."""


@dataclass(frozen=True)
class Question:
    """Which case and who sits it; small enough to hand to another process.

    Parameters
    ----------
    index : int
        Which of the family's questions under that seed. [1]
    options : tuple of (str, object)
        Handed on to `judge.cases.exams`.
    """

    family: str
    seed: str
    index: int
    policies: tuple[str, ...]
    guard: float = GUARD
    options: tuple[tuple[str, Any], ...] = ()
    verbose: bool = False

    @property
    def key(self) -> str:
        """Its name, from which it can be asked again."""
        extra = "".join(f",{name}={value}" for name, value in self.options)
        return f"{self.family}:{self.seed}:{self.index}{extra}"


def exam_of(question: Question) -> Exam:
    """The question itself, made again from its words."""
    return exam_at(question.family, question.index, question.seed, **dict(question.options))


def sat(question: Question) -> list[dict[str, Any]]:
    """Every policy at one question, each on a bench of its own."""
    return sat_at(exam_of(question), question)


def sat_at(exam: Exam, question: Question, bench_for: Callable[[Any], Any] = Bench) -> list[dict[str, Any]]:
    """Every policy at one exam."""
    decidable = None
    rows = []
    for name in question.policies:
        bench = bench_for(exam.case)
        before = simulator().tally.copied()
        try:
            if decidable is None:
                decidable = Verdict(exam.case, bench, Ledger(bench, exam.board)).decidable()
            row = one_sitting(name, exam, question, bench)
        finally:
            bench.close()
        told = simulator().tally.since(before)
        rows.append({**about(exam, question), "decidable": decidable, **row, "simulator": told})
    return rows


def about(exam: Exam, question: Question) -> dict[str, Any]:
    """What a case was, as plain data."""
    case = exam.case
    return {
        "key": question.key, "name": exam.name, "family": question.family, "board": case.world.name,
        "nets": len(case.world.nets), "parts": len(case.world.parts), "mapped": len(exam.board.parts),
        "tags": {**dict(case.tags)}, "culprits": sorted(case.culprits),
        "faults": [told(fault) for fault in case.faults],
        "hidden_culprits": sorted(case.culprits & case.hidden),
    }  # fmt: skip


def told(fault: Fault) -> str:
    """A fault in a few words."""
    pins = fault.a if fault.a == fault.b else f"{fault.a}-{fault.b}"
    return f"{fault.part} {fault.kind} {pins} {fault.ohms:.4g}"


def one_sitting(name: str, exam: Exam, question: Question, bench: Any) -> dict[str, Any]:
    """One policy at one case: what it answered, what that is worth, and what it cost."""
    ledger = Ledger(bench, exam.board)
    truth = exam.case if name in TOLD else None
    sitting = Sitting(exam.board, ledger, truth, (exam.name, exam.seed), question.verbose)
    began = time.process_time()
    policy: Policy | None = None
    cut, error = "", ""
    try:
        with guarded(question.guard):
            policy = POLICIES[name](sitting)
            policy.run()
    except CapReached:
        cut = "cap"
    except GuardError:
        cut = "guard"
    except Exception as crash:  # noqa: BLE001 - a crash of a policy is its loss, not the end of the examination
        cut, error = "crash", _crash(crash)
        if question.verbose:
            traceback.print_exc()
    seconds = time.process_time() - began - getattr(getattr(policy, "port", None), "spent", 0.0)
    answer = Answer()
    try:
        if policy is not None and cut in ("", "cap"):
            with guarded(question.guard):
                answer = policy.answer()
    except GuardError as late:
        cut, error = cut or "guard", _crash(late)
    except Exception as crash:  # noqa: BLE001 - as above
        cut, error = cut or "crash", _crash(crash)
    answer = replace(answer, ever=tuple(getattr(policy, "ever", ())))
    row = outcome(Verdict(exam.case, bench, ledger), answer)
    return {"policy": name, **row, **price(exam, ledger, answer, row["right"], cut), "cut": cut, "error": error,
            "seconds": round(seconds, 3), "first": round(getattr(policy, "first", 0.0), 4),
            "steps": list(getattr(policy, "steps", ()))}  # fmt: skip


def price(exam: Exam, ledger: Ledger, answer: Answer, right: bool, cut: str) -> dict[str, Any]:
    """Minutes of the case, the final removal of every culprit included; the cap where it is not solved. [min]"""
    solved = right and cut == ""
    total = ledger.minutes + closing(exam, ledger, answer)
    cap = costs().cap
    return {
        "worked": round(ledger.minutes, 2),
        "solved": solved and total < cap,
        "minutes": round(min(total, cap), 2) if solved else cap,
    }


def closing(exam: Exam, ledger: Ledger, answer: Answer) -> float:
    """What is still to be done at the end: culprits off, read by themselves, new ones in, and a trial. [min]

    Members of the group that the policy names before the true one come off first.
    """
    table, case = costs(), exam.case
    cured = {part for event in ledger.events if event.act in ("reflow", "clean") for part in event.parts}
    new = {part for event in ledger.events if event.act == "replace" for part in event.parts}
    lifted = set(ledger.lifted)
    total = 0.0
    for fault in {f.part: f for f in case.faults}.values():
        if fault.kind == "joint" and fault.part not in lifted | cured:
            total += table.flat("reflow")
        elif fault.kind == "dirt":
            spots = {fault.part, *fault.nets(case.world)}
            total += 0.0 if spots & cured else table.flat("clean")
        elif fault.kind != "joint":
            part = case.world.part[fault.part]
            total += table.flat("find unmapped") if fault.part in case.hidden else 0.0
            total += 0.0 if fault.part in lifted else table.take_off(part) + table.read("part ohms")
            total += 0.0 if fault.part in new else table.replace(part)
    for named in answer.top.group:
        if set(named.parts) & case.culprits or not case.faults:
            break
        for name in set(named.parts) & set(exam.board.part_by_name) - lifted:
            total += (
                table.take_off(exam.board.part(name)) + table.read("part ohms") + table.refit(exam.board.part(name))
            )
    if case.faults and not any(event.act == "try" for event in ledger.events):
        total += table.flat("try")
    return total


def _crash(crash: BaseException) -> str:
    """A crash in one line, with the place in our own files but no path of this machine."""
    frames = traceback.extract_tb(crash.__traceback__)
    place = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    return f"{type(crash).__name__} at {place}: {crash}"[:300]


@contextmanager
def guarded(seconds: float) -> Iterator[None]:
    """Raise `GuardError` in the main thread after so many seconds of its own work, or many more on the wall. [s]"""

    def ring(number: int, frame: object) -> None:
        raise GuardError(f"{seconds:g} s are over")

    timers = (
        (signal.SIGPROF, signal.ITIMER_PROF, seconds),
        (signal.SIGALRM, signal.ITIMER_REAL, PATIENCE * seconds),
    )
    before = [signal.signal(number, ring) for number, _, _ in timers]
    for _, timer, length in timers:
        signal.setitimer(timer, length)
    try:
        yield
    finally:
        for (number, timer, _), old in zip(timers, before, strict=True):
            signal.setitimer(timer, 0.0)
            signal.signal(number, old)


def questions(
    families: Sequence[str], count: int, seed: str, policies: Sequence[str], guard: float = GUARD, **options: Any
) -> list[Question]:
    """Questions of all families, taken in turn so that a run cut short is still a mixture."""
    extra = tuple(sorted((k, v) for k, v in options.items() if v is not None))
    return [
        Question(family, seed, index, tuple(policies), guard, extra) for index in range(count) for family in families
    ]


def safely(question: Question) -> list[dict[str, Any]]:
    """As `sat`; a question that cannot even be asked comes back as a row that says so."""
    try:
        return sat(question)
    except Exception as crash:  # noqa: BLE001 - one broken question must not end the examination
        return [{"key": question.key, "family": question.family, "policy": "", "broken": _crash(crash)}]


def run(asked: Sequence[Question], jobs: int = 1, until: float | None = None) -> Iterator[list[dict[str, Any]]]:
    """All questions in a pool of processes, each answer as it comes.

    Parameters
    ----------
    until : float or None
        A time of `time.monotonic` after which no new answer is waited for. [s]
    """
    if jobs <= 1:
        for question in asked:
            if until is not None and time.monotonic() > until:
                return
            yield safely(question)
        return
    with get_context("spawn").Pool(jobs, maxtasksperchild=8) as pool:
        for rows in pool.imap_unordered(safely, asked):
            yield rows
            if until is not None and time.monotonic() > until:
                return


def measured_commit() -> tuple[str, bool]:
    """Hash of the commit measured, and whether the engine or the judge differ from it."""

    def git(*words: str) -> str:
        return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True).stdout

    return git("rev-parse", "HEAD").strip(), bool(git("status", "--porcelain", "--", "src", "judge").strip())


__all__ = ["Question", "exam_of", "measured_commit", "questions", "run", "sat", "sat_at"]
