"""Faults planted in the examined: the judge has to see every one of them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from judge.cases import Exam
from judge.costs import costs
from judge.ledger import CapReached, Ledger
from judge.policies import POLICIES, Answer
from judge.policies.answer import ClaimMade, Named, Stated
from judge.verdict import Verdict, outcome
from judge.world import Case, Fault
from tests.judge_exam.fakes import WORLD, FakeBench, exam, short

from judge import exam as sitting
from judge import metrics
from ohmwright.facts import Quantity

EXAMS = (
    exam("cap on the input", short("C2")),
    exam("cap on the rail", short("C4", 0.8)),
    exam("cap on the low rail", short("C6", 1.5)),
    exam("chip", Fault("short", "U2", "1", "2", 0.4)),
    exam("fuse", Fault("open", "F1", "1", "2", 1e9, "body")),
    exam("leak", Fault("leak", "C5", "1", "2", 60.0)),
    exam("two rails", short("C1"), short("C6")),
    exam("nothing"),
)
SITTERS = ("habit", "F", "oracle", "abstain", "always-claim", "habit-copy", "ungated")


def asked(key: str, *policies: str) -> sitting.Question:
    return sitting.Question("fake", key, 0, policies, 60.0)


@pytest.fixture(scope="module")
def figures() -> dict[str, Any]:
    rows = [row for e in EXAMS for row in sitting.sat_at(e, asked(e.name, *SITTERS), FakeBench)]
    return {"rows": rows, **metrics.summary(rows)}


def of(figures: dict[str, Any], policy: str) -> dict[str, Any]:
    found: dict[str, Any] = figures["policies"][policy]
    return found


def test_nobody_crashed(figures: dict[str, Any]) -> None:
    assert [(r["policy"], r["error"]) for r in figures["rows"] if r["cut"] == "crash"] == []


def test_the_oracle_is_always_right_and_cheapest(figures: dict[str, Any]) -> None:
    floor = of(figures, "F")
    assert floor["right"]["share"] == 1.0
    assert floor["false proven"]["hits"] == floor["false likely"]["hits"] == 0
    assert floor["needless lifted"]["mean"] == 0.0
    for policy in SITTERS:
        if policy != "F":
            assert of(figures, policy)["minutes"]["mean"] > floor["minutes"]["mean"]


def test_an_oracle_that_works_as_others_do_scores_near_the_floor(figures: dict[str, Any]) -> None:
    own, floor, habit = of(figures, "oracle"), of(figures, "F"), of(figures, "habit")
    assert own["right"]["share"] == 1.0
    assert own["false proven"]["hits"] == own["false likely"]["hits"] == own["violations"] == 0
    # Two readings and a look at each culprit more than the floor.
    assert own["minutes"]["mean"] - floor["minutes"]["mean"] < 2.0
    gained = (habit["minutes"]["mean"] - own["minutes"]["mean"]) / (habit["minutes"]["mean"] - floor["minutes"]["mean"])
    assert gained > 0.9


def test_the_abstainer_scores_badly(figures: dict[str, Any]) -> None:
    own = of(figures, "abstain")
    assert own["right"]["hits"] == 0
    assert own["minutes"]["mean"] == costs().cap
    assert own["decidable reaching likely"]["share"] == 0.0


def test_the_claimer_scores_badly(figures: dict[str, Any]) -> None:
    own = of(figures, "always-claim")
    assert own["false proven"]["share"] > 0.5
    assert own["healthy accused"]["share"] == 1.0
    assert own["calibration"]["stop"]["weighted error"] > 0.4


def test_a_copy_of_habit_scores_as_habit(figures: dict[str, Any]) -> None:
    pairs = metrics.paired(figures["rows"], "habit", "habit-copy")
    assert len(pairs) == len(EXAMS)
    for one, other in pairs:
        kept = {k: v for k, v in one.items() if k not in ("policy", "seconds", "first")}
        assert kept == {k: v for k, v in other.items() if k not in ("policy", "seconds", "first")}


def test_habit_finds_what_an_experienced_hand_finds(figures: dict[str, Any]) -> None:
    own = {row["name"]: row for row in figures["rows"] if row["policy"] == "habit"}
    for name in ("cap on the input", "cap on the rail", "cap on the low rail", "chip", "fuse", "two rails", "nothing"):
        assert own[name]["right"], own[name]
    assert of(figures, "habit")["false proven"]["hits"] == 0
    assert of(figures, "habit")["violations"] == 0


def test_an_adviser_without_gates_is_caught(figures: dict[str, Any]) -> None:
    assert of(figures, "ungated")["violations"] > 0
    assert of(figures, "habit")["violations"] == of(figures, "F")["violations"] == 0


def test_a_crash_is_a_loss_and_nothing_more(monkeypatch: pytest.MonkeyPatch) -> None:
    class Crasher:
        def __init__(self, given: Any) -> None:
            given.bench.read(Quantity.OHMS, "V33", "GND")

        def run(self) -> None:
            raise ZeroDivisionError("planted")

        def answer(self) -> Answer:
            raise AssertionError("never asked")

    monkeypatch.setattr(sitting, "POLICIES", {**POLICIES, "crasher": Crasher})
    first, second = sitting.sat_at(EXAMS[0], asked("x", "crasher", "F"), FakeBench)
    assert (first["cut"], first["right"], first["minutes"]) == ("crash", False, costs().cap)
    assert "planted" in first["error"]
    assert second["right"]


def test_the_wall_clock_guard_ends_a_case(monkeypatch: pytest.MonkeyPatch) -> None:
    class Sleeper:
        def __init__(self, given: Any) -> None:
            del given

        def run(self) -> None:
            while True:
                pass

        def answer(self) -> Answer:
            raise AssertionError("never asked")

    monkeypatch.setattr(sitting, "POLICIES", {"sleeper": Sleeper})
    question = sitting.Question("fake", "x", 0, ("sleeper",), 0.2)
    (row,) = sitting.sat_at(EXAMS[0], question, FakeBench)
    assert (row["cut"], row["minutes"], row["right"]) == ("guard", costs().cap, False)


def test_the_cap_ends_a_case_and_the_answer_is_still_read() -> None:
    ledger = Ledger(FakeBench(EXAMS[0].case), EXAMS[0].board)

    def for_ever() -> None:
        while True:
            ledger.read("ohms", "V33", "GND")

    with pytest.raises(CapReached):
        for_ever()
    assert ledger.minutes == costs().cap


def judged(e: Exam, *acts: tuple[str, ...]) -> Verdict:
    bench = FakeBench(e.case)
    ledger = Ledger(bench, e.board)
    for act in acts:
        if act[0] == "off":
            ledger.take_off(act[1])
        else:
            ledger.read(Quantity.OHMS, act[1], act[2])
    return Verdict(e.case, bench, ledger)


def cap(name: str, mode: str = "short") -> Named:
    return Named((name,), mode, (f"{name}.1", f"{name}.2"), 0.4)


def test_parallel_capacitors_are_one_group_until_one_comes_off() -> None:
    e = exam("rail", short("C4"))
    group = (cap("C3"), cap("C4"), cap("C5"))
    assert judged(e, ("read", "V33", "GND")).right(group)
    apart = judged(e, ("read", "V33", "GND"), ("off", "C3"), ("read", "V33", "GND"))
    assert not apart.right(group)
    assert apart.right((cap("C4"), cap("C5")))


def test_another_rail_is_set_apart_by_a_reading_there_and_only_then() -> None:
    e = exam("rail", short("C4"))
    group = (cap("C4"), cap("C6"))
    assert not judged(e, ("read", "V33", "GND")).right(group)
    assert judged(e, ("read", "VIN", "GND")).right(group)


def test_the_far_end_of_a_coil_is_not_told_apart_by_ohms() -> None:
    e = exam("rail", short("C4", 3.0))
    leg = Named(("U1",), "short", ("U1.3", "U1.2"), 0.3)
    assert judged(e, ("read", "V33", "GND"), ("read", "SW", "GND")).right((cap("C4"), leg))


def test_hidden_culprits_are_right_by_their_net() -> None:
    e = exam("hidden", short("C4"), hidden=("C4",))
    verdict = judged(e)
    assert verdict.right((Named((), "unmapped", ("V33",), 0.9),))
    assert not verdict.right((Named((), "unmapped", ("V18",), 0.9),))
    assert not verdict.right((cap("C3"),))


def test_the_wrong_one_of_two_is_not_the_truth() -> None:
    e = exam("two", short("C1"), short("C6"))
    assert not judged(e).right((cap("C1"),))
    assert judged(e).right((Named(("C1", "C6"), "short", ("C1.1", "C1.2", "C6.1", "C6.2"), 0.9),))


def test_false_claims() -> None:
    e = exam("same rail", short("C4"), short("C5", 2.0))
    verdict = judged(e)
    assert verdict.proven_false(ClaimMade("proven", "C3", ()), ("C3",))
    assert verdict.proven_false(ClaimMade("proven", "C4", ()), ("C4",))
    assert not verdict.proven_false(ClaimMade("proven", "C4", (), more=True), ("C4",))
    assert not verdict.proven_false(ClaimMade("proven", "C4", ()), ("C4", "C5"))
    assert verdict.likely_false(ClaimMade("likely", "", (cap("C3"),)))
    assert not verdict.likely_false(ClaimMade("likely", "", (cap("C3"), cap("C5"))))
    assert not verdict.likely_false(ClaimMade("open", "", (cap("C3"),)))


def test_a_fault_that_is_no_longer_there_leaves_a_proof_true() -> None:
    e = exam("same rail", short("C4"), short("C5", 2.0))
    verdict = judged(e)
    verdict.ledger.replace("C5")
    assert not verdict.proven_false(ClaimMade("proven", "C4", ()), ("C4",))
    net = judged(exam("same rail, one hidden", short("C4"), short("C5", 2.0), hidden=("C5",)))
    assert net.proven_false(ClaimMade("proven", "V33", ()), ("V33",))
    assert not net.proven_false(ClaimMade("proven", "V33", ()), ("V33", "C4"))


def test_both_faults_count_as_found_only_together() -> None:
    verdict = judged(exam("two", short("C1"), short("C6")))
    either = Answer(top=Stated((cap("C1"), cap("C6")), 0.9))
    both = Answer(top=Stated((Named(("C1", "C6"), "short"),), 0.9))
    one_proven = Answer(top=Stated((cap("C6"),), 0.9), claims=(ClaimMade("proven", "C1", ()),))
    assert not verdict.all_found(either)
    assert verdict.all_found(both)
    assert verdict.all_found(one_proven)


def test_an_accusation_on_the_way_counts_though_it_was_taken_back() -> None:
    e = exam("nothing")
    fine = Answer("nothing wrong", Stated((Named((), "none"),), 0.9))
    assert not outcome(judged(e), fine)["accuses"]
    row = outcome(judged(e), replace(fine, ever=(ClaimMade("likely", "", (cap("C3"),)),)))
    assert row["accuses"]
    assert (row["ever_likely"], row["ever_likely_false"], row["likely"]) == (1, 1, 0)


def test_a_healthy_core_rail_is_accused_when_nothing_but_it_is_named() -> None:
    nets = tuple(replace(net, core=net.name == "V18") for net in WORLD.nets)
    e = exam("core", short("C4"))
    e = replace(e, case=replace(e.case, world=replace(WORLD, nets=nets)))
    verdict = judged(e)
    assert verdict.sound_cores == ("V18",)
    assert verdict.accuses_core(ClaimMade("likely", "", (cap("C6"),)))
    assert not verdict.accuses_core(ClaimMade("likely", "", (cap("C6"), cap("C4"))))
    assert not verdict.accuses_core(ClaimMade("open", "", (cap("C6"),)))
    bad = replace(e, case=replace(e.case, faults=(short("C6"),)))
    assert judged(bad).sound_cores == ()


def test_decidable_by_truth() -> None:
    assert judged(exam("plain", short("C4"))).decidable()
    # A leak of 40 k beside a load of 2 k moves the rail by five percent: nobody can see that.
    assert not judged(exam("faint", Fault("leak", "C4", "1", "2", 4e4))).decidable()
    assert not judged(exam("nothing")).decidable()


def test_minutes_by_hand() -> None:
    # Entry 1, ohms 0.3, off 3, ohms 0.3, loose 0.5, then new 2.4 and a trial 1.5.
    (row,) = sitting.sat_at(EXAMS[1], asked("x", "F"), FakeBench)
    assert row["minutes"] == pytest.approx(1.0 + 0.3 + 3.0 + 0.3 + 0.5 + 2.4 + 1.5)


def test_innocent_members_of_a_group_come_off_first() -> None:
    e = EXAMS[1]
    ledger = Ledger(FakeBench(e.case), e.board)
    alone = sitting.closing(e, ledger, Answer(top=Stated((cap("C4"),), 0.9)))
    third = sitting.closing(e, ledger, Answer(top=Stated((cap("C3"), cap("C5"), cap("C4")), 0.9)))
    assert third - alone == pytest.approx(2 * (3.0 + 0.5 + 0.6 * 3.0))


def test_a_question_that_cannot_be_asked_is_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*words: object, **more: object) -> Any:
        raise LookupError("no such board")

    monkeypatch.setattr(sitting, "exam_at", broken)
    ((row,),) = sitting.run([asked("x", "F")])
    assert "no such board" in row["broken"]


def test_truth_reaches_only_the_clairvoyant() -> None:
    seen: dict[str, Case | None] = {}

    class Spy:
        def __init__(self, given: Any) -> None:
            seen["truth"] = given.truth

        def run(self) -> None:
            pass

        def answer(self) -> Answer:
            return Answer()

    original = dict(sitting.POLICIES)
    try:
        sitting.POLICIES = {**original, "spy": Spy}
        sitting.sat_at(EXAMS[0], asked("x", "spy"), FakeBench)
    finally:
        sitting.POLICIES = original
    assert seen["truth"] is None


def test_the_engine_sits_through_the_road_of_a_users_case() -> None:
    (row,) = sitting.sat_at(EXAMS[4], asked("x", "engine"), FakeBench)
    assert row["right"], row
    assert row["level"] == "proven"
    assert row["violations"] == 0
    # Thinking is timed step by step, and is most of what the policy took.
    assert row["first"] > 0.0
    assert len(row["steps"]) > 1
    assert 0.5 * row["seconds"] < row["first"] + sum(step[0] for step in row["steps"]) <= 1.01 * row["seconds"] + 0.01
    assert row["ever_likely"] >= row["likely"]
