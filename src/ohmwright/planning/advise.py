"""The next test: gates first, then whatever brings the proof nearest for the least time and risk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ohmwright.circuit import Board, Feed
from ohmwright.diagnosis import Diagnosis, Level, Posterior, not_cured
from ohmwright.facts import CURES, LOOSE, Deed, Facts, Quantity, Reading
from ohmwright.planning import costs, work
from ohmwright.planning.advice import Advice, Outcome, Step, Test, TestKind
from ohmwright.planning.candidates import Candidate
from ohmwright.planning.cautions import cautions_for
from ohmwright.planning.choice import FUTILE, in_order
from ohmwright.planning.doubts import guesses_to_check, links_to_check, rails_to_compare, retake
from ohmwright.planning.foresight import Foresight, foresee
from ohmwright.planning.scene import Scene, at, point, scene_of
from ohmwright.planning.wording import as_test, gate_test
from ohmwright.planning.worth import Weighed, repairs_of, share_by_part, weigh_all
from ohmwright.safety import checked, coils_to_check

SHOWN = 6
WORK = (TestKind.TAKE_OFF, TestKind.REPLACE)
TELLING, QUICK = 0.1, 0.1
"""A reading of as much information that takes no more than that share of the time of work goes before it. [bit], [1]"""
PATIENCE, PATIENCE_PER_NET = 30, 0.15
"""Second looks at nets that were read after which none is expected to tell the suspects apart any more, while none of
those is more likely than not. [1], [1] estimates"""
LEFT_UNREAD = 0.02
"""Belief in faults between nets that nobody read below which nothing waits for them to be read. [1]"""
PATIENCE_PER_WORK = 8
"""How many more each part taken off or mended is worth: what it changes is read again, not all the board. Estimate."""
ONE_PLACE = 0.35
"""Belief in one pair of nets from which taking parts off there is worth it though no reading tells them apart. [1]"""


def advise(board: Board, facts: Facts, belief: Posterior, diagnosis: Diagnosis) -> Advice:
    """What to do next and why.

    Parameters
    ----------
    board : Board
    facts : Facts
    belief : Posterior
        From `ohmwright.diagnosis.diagnose`.
    diagnosis : Diagnosis

    Returns
    -------
    Advice
        Tests best first; `stop` says when going on is not worth it, and tests beside it are for those who do.
    """
    scene = scene_of(belief)
    stop = _proven(belief, diagnosis)
    if stop:
        repair = _repair(scene, diagnosis)
        return Advice((repair,)) if repair is not None else Advice((), stop)
    if facts.last_trial is Deed.WORKS and not facts.state.off:
        return Advice((), *_working(facts))
    gate = work.entry_gate(scene)
    if gate is not None:
        return Advice((gate_test(scene, gate, "nothing may touch the board before this is known"),))
    view = foresee(belief)
    skipped = set(facts.skipped)
    open_to = [w for w in weigh_all(scene, view, repairs_of(scene, view)) if w.candidate.title not in skipped]
    refused = tuple(
        dict.fromkeys(f"{w.candidate.title}: {w.refusal.reason}" for w in open_to if w.refusal and w.offer.bits > 0.3)
    )
    worn, seen = _worn(scene, view), _done_with(belief)
    usable = [w for w in open_to if not worn or _goes_on(w.candidate, seen)]
    ranked = _ranked(usable, share_by_part(scene, view, everything=True))
    gates = _coil_gates(scene, usable, ranked)
    permitted = _measured_first(ranked, view)
    new = any(_first_look(w.candidate, seen) for w in permitted)
    opened = any(w.candidate.kind is TestKind.SPLIT for w in permitted)
    hopeless = not gates and worn and not new and not opened and (not permitted or _at_one_place(view) < ONE_PLACE)
    fresh = _first_looks(open_to, seen) if hopeless or not permitted else []
    permitted = fresh or permitted
    tests = [
        as_test(scene, view, w.candidate, w.expected, w.outcomes, w.offer.bits, w.offer.saves)
        for w in permitted[:SHOWN]
    ]
    first = (*links_to_check(scene), *guesses_to_check(scene), *rails_to_compare(scene))
    tests = [t for t in first if t.title not in skipped] + tests
    doubt = retake(scene)
    if doubt is not None and doubt.title not in skipped:
        tests.insert(0, doubt)
    if not tests and not gates:
        return Advice((), *_undecided(view, diagnosis, facts), refused[:5])
    if hopeless and not fresh:
        return Advice(tuple(tests), *_undecided(view, diagnosis, facts), refused[:5])
    return Advice((*gates, *tests), refused=refused[:5])


def _working(facts: Facts) -> tuple[str, str]:
    """What to say of a board that works, and what would tell more."""
    done = [f"{a.part} was {a.deed.value}" for a in facts.acts if a.deed in CURES][-1:]
    seen_dead = [k for k, a in enumerate(facts.acts) if a.deed is Deed.STILL_DEAD]
    # its joints are new, and may have been all that was wrong
    back = [a.part for a in facts.acts[seen_dead[-1] if seen_dead else 0 :] if a.deed is Deed.REFITTED]
    done += [f"{part} was soldered back" for part in dict.fromkeys(back)]
    if not done:
        return "the board works, and nothing was repaired", "say what it does wrong, and when it does it"
    before = "" if seen_dead else "whether it was dead before, which nobody has put on record, and "
    return f"the board works since {' and '.join(done)}", f"{before}whether it still works after a while"


def _worn(scene: Scene, view: Foresight) -> bool:
    """Whether so much was read again without one suspect standing out that reading on is not worth it.

    What one more reading is expected to save rests on a map and on strengths that so many readings did not bear out.
    """
    read = sum(reading.quantity not in LOOSE for reading in scene.facts.readings)
    second = read - len(_seen(view.posterior) - {scene.board.ground})
    worked = sum(act.deed in (Deed.TOOK_OFF, *CURES) for act in scene.facts.acts)
    most = PATIENCE + PATIENCE_PER_NET * len(scene.board.nets) + PATIENCE_PER_WORK * worked
    return second > most and float(view.belief.probabilities.max()) < 0.5


def _seen(belief: Posterior) -> set[str]:
    """Nets that some reading on the board has an end on."""
    return {net for line in belief.lines if not line.loose for net in (line.probe.red, line.probe.black)}


def _done_with(belief: Posterior) -> set[str]:
    """Nets that were read; all of them where next to nothing may be wrong between those that were not."""
    ground, seen = belief.board.ground, _seen(belief)
    defects = zip(belief.by_defect.tolist(), belief.roster.defects, strict=True)
    apart = ((p, set(defect.nets) - {ground}) for p, defect in defects)
    unread = sum(p for p, nets in apart if nets and not nets & seen)
    return seen | {ground} if unread >= LEFT_UNREAD else set(belief.board.net_by_name)


def _first_look(candidate: Candidate, seen: set[str]) -> bool:
    """Whether it reads a net that no reading had an end on: whatever is wrong there would have shown nowhere else."""
    reading = candidate.reading
    return reading is not None and not {reading.red, reading.black} <= seen


def _first_looks(open_to: Sequence[Weighed], seen: set[str]) -> list[Weighed]:
    """Nets that nobody read, the likeliest to tell first.

    Each by itself promises too little; all of them together are the last that can be read before giving up.
    """
    looks = [w for w in open_to if w.refusal is None and w.candidate.feed is None and _first_look(w.candidate, seen)]
    return sorted(looks, key=lambda w: (-w.offer.rate, w.candidate.title))


def _goes_on(candidate: Candidate, seen: set[str]) -> bool:
    """Whether it may tell something when second looks do not any more: work, another feed, a net not read yet."""
    return candidate.kind in (*WORK, TestKind.SPLIT) or candidate.feed is not None or _first_look(candidate, seen)


def _measured_first(permitted: list[Weighed], view: Foresight) -> list[Weighed]:
    """Before work on a part whatever would have to show at its own pins is read, where that takes next to no time.

    One such reading may change no decision, and looks worthless for that; all of them together clear the part.
    """
    if not permitted or permitted[0].candidate.kind not in WORK:
        return permitted
    first = permitted[0]
    target, minutes = first.candidate.target[0], first.candidate.minutes
    places = {frozenset(d.nets) for e in view.examples for d in e.faults if target in (d.part, *d.where)}
    ahead = [
        w
        for w in permitted
        if w.candidate.reading is not None
        and frozenset((w.candidate.reading.red, w.candidate.reading.black)) in places
        and w.offer.bits > TELLING
        and w.candidate.minutes < QUICK * minutes
    ]
    best = sorted(ahead, key=lambda w: (-w.offer.bits, w.candidate.title))[:1]
    return best + [w for w in permitted if w not in best]


def _at_one_place(view: Foresight) -> float:
    """Belief in the pair of nets believed in most: parts between the same two nets only work tells apart. [1]"""
    share: dict[frozenset[str], float] = {}
    for p, example in zip(view.belief.probabilities.tolist(), view.examples, strict=True):
        if len(example.faults) == 1:
            place = frozenset(example.faults[0].nets)
            share[place] = share.get(place, 0.0) + p
    return max(share.values(), default=0.0)


def _ranked(open_to: Sequence[Weighed], share: dict[str, float]) -> list[Weighed]:
    """What is permitted and worth doing, the first to do in front."""
    permitted = [w for w in open_to if w.refusal is None]
    work = [share.get(w.candidate.target[0], 0.0) if w.candidate.kind in WORK else 0.0 for w in permitted]
    offers = [replace(w.offer, share=own) for w, own in zip(permitted, work, strict=True)]
    return [permitted[k] for k in in_order(offers)]


def _proven(belief: Posterior, diagnosis: Diagnosis) -> str:
    """Why nothing is left to find; empty while something is, as on a board that was mended, tried and is dead."""
    proven = [claim.part for claim in diagnosis.claims if claim.level is Level.PROVEN]
    found = not_cured(belief, *proven) < 0.1 and not belief.facts.dead_since_mended(*proven)
    return "proven" if proven and (belief.facts.last_trial is Deed.WORKS or found) else ""


def _repair(scene: Scene, diagnosis: Diagnosis) -> Test | None:
    """What is left once a part is proven: fit a new one and try the board; None when it was tried since."""
    if scene.facts.trial_since_mended is not None:
        return None
    cured = scene.state.replaced | scene.state.cleaned
    parts = [c.part for c in diagnosis.claims if c.level is Level.PROVEN and c.part in scene.board.part_by_name]
    waiting = [part for part in parts if part not in cured]
    if not waiting:
        return None
    candidate = work.fit_new(scene, waiting[0])
    why = f"{waiting[0]} is proven bad; only the board itself can say that nothing else is wrong."
    cautions = cautions_for(scene.board, candidate.kind, candidate.steps)
    return Test(
        candidate.kind,
        candidate.title,
        why,
        candidate.steps,
        candidate.minutes,
        candidate.risk,
        0.0,
        0.0,
        (),
        (Outcome("the board works", 0.9, "done"), Outcome("still dead", 0.1, "a second fault is looked for")),
        cautions,
    )


def _coil_gates(scene: Scene, weighed: Iterable[Weighed], permitted: list[Weighed]) -> list[Test]:
    """Probes from the input to each coil, if a feed that needs them is worth more than all that is permitted."""
    best = max((w.offer.rate for w in permitted), default=0.0)
    wishes = [
        w for w in weighed if w.refusal is not None and w.refusal.gate == "coils" and w.candidate.feed is not None
    ]
    for wish in sorted(wishes, key=lambda w: -w.offer.rate):
        feed = wish.candidate.feed
        assert feed is not None
        missing = [
            c for c in coils_to_check(scene.board, feed.plus) if checked(scene.board, scene.facts, feed.plus, c) is None
        ]
        minutes = wish.candidate.minutes + wish.candidate.risk
        with_checks = wish.offer.rate * minutes / (minutes + costs.PAIR * len(missing))
        if wish.offer.bits <= FUTILE or with_checks <= max(best, 1.0) or not missing:
            continue
        return [_coil_gate(scene, feed, coil) for coil in missing[:1]]
    return []


def _coil_gate(scene: Scene, feed: Feed, coil: str) -> Test:
    end = scene.board.part(coil).nets[0]
    reading = Reading(Quantity.OHMS, feed.plus, end, 0.0, scene.state, scene.meter)
    steps = (*scene.quiet(), Step("read", Quantity.OHMS.value, point(scene, feed.plus), point(scene, end)))
    title = f"Before {feed.volts:g} V goes in: ohms from {at(scene, feed.plus)} to the coil {coil}"
    candidate = Candidate(TestKind.GATE, title, steps, costs.PAIR, 0.0, reading)
    return gate_test(
        scene, candidate, "a switch that is through would pass the input's volts to everything behind the coil"
    )


def _undecided(view: Foresight, diagnosis: Diagnosis, facts: Facts) -> tuple[str, str]:
    proven = [claim.part for claim in diagnosis.claims if claim.level is Level.PROVEN]
    if proven and facts.dead_since_mended(*proven):
        return (
            f"{', '.join(proven)} was bad and is mended, yet the board is dead: what else is wrong is not decidable "
            "with these tests",
            "look at solder and pads of what was worked on, map more of the board, or run it and watch each rail",
        )
    best = diagnosis.suspects[0] if diagnosis.suspects else None
    if best is not None and best.mode == "none" and best.probability > 0.8:
        return (
            "nothing wrong that these readings could show",
            "run the board and watch what each rail does, or map parts that are not on the map yet",
        )
    if best is not None and best.mode == "unmapped" and best.probability > 0.5:
        return (
            f"{best.words}; no part on the map is left to test there",
            "look along that net for parts, bridges and dirt that are not on the map, add them, and go on",
        )
    del view
    return (
        "not decidable with these tests",
        "a good board of the same kind to compare with, more of the board on the map, "
        "or a meter that shows smaller steps",
    )
