"""Read rate, wrong rate and asked rate of the display reader on rendered displays it was not tuned on.

    PYTHONPATH=src:. python benchmarks/displays.py --count 5000

Each display is looked at for five frames; in a fifth of them the first frames still mix in the value before. An
answer counts only if three pictures agree on figures, unit and words. Wrong is an answer whose figures, unit or hold
mark are not the truth; asked is no answer at all.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter, defaultdict

from tests.displays.rendered import Burst, burst

from ohmwright.pictures.display.agreement import Agreement, agreed
from ohmwright.pictures.display.reading import DisplayRead, read_display


def truth_of(one: Burst) -> tuple[str, str, bool]:
    text = one.truth.text
    return ("OL" if "L" in text else text), one.truth.unit, "HOLD" in one.truth.words


def answer(one: Burst) -> tuple[tuple[str, str, bool] | None, str, bool]:
    """What is believed, why not, and whether any single picture was certain of wrong figures."""
    state, wrong_once = Agreement(), False
    why: Counter[str] = Counter()
    believed = None
    for picture, corners in one.frames:
        read: DisplayRead = read_display(picture, corners)
        state = agreed(state, read)
        why[read.why] += 1
        wrong_once |= bool(read.text) and canonical(read.text) != canonical(truth_of(one)[0])
        if state.believed and believed is None and state.says is not None:
            believed = (state.says[0], state.says[1], "HOLD" in state.says[2])
            break
    why.pop("", None)
    return believed, (why.most_common(1) or [("", 0)])[0][0], wrong_once


def canonical(text: str) -> str:
    """Figures with the zero that stands before a bare point."""
    sign, bare = ("-", text[1:]) if text.startswith("-") else ("", text)
    return sign + ("0" + bare if bare.startswith(".") else bare)


def judged(count: int, *, apart: bool, first: int = 0, show: bool = False) -> dict[str, object]:
    tally: Counter[str] = Counter()
    reasons: Counter[str] = Counter()
    kinds: dict[str, Counter[str]] = defaultdict(Counter)
    wrong = []
    began = time.monotonic()
    for seed in range(first, first + count):
        one = burst(seed, apart=apart)
        said, why, once = answer(one)
        text, unit, held = truth_of(one)
        right = (canonical(text), unit, held)
        result = "asked" if said is None else "read" if (canonical(said[0]), *said[1:]) == right else "wrong"
        tally[result] += 1
        tally["a picture wrong"] += once
        kinds[one.look.dots or "segments"][result] += 1
        if result == "asked":
            reasons[why] += 1
        if result == "wrong":
            wrong.append((seed, text, unit, said))
            if show:
                print("wrong:", wrong[-1], flush=True)
        if show and (seed - first) % 50 == 49:
            print(seed - first + 1, dict(tally), {k: dict(v) for k, v in kinds.items()}, flush=True)
    answered = tally["read"] + tally["wrong"]
    return {
        "n": count, "apart": apart, "read": tally["read"] / count, "asked": tally["asked"] / count,
        "wrong of answered": tally["wrong"] / max(answered, 1), "wrong": wrong[:20],
        "single pictures wrong": tally["a picture wrong"] / count,
        "kinds": {k: dict(v) for k, v in kinds.items()}, "asked why": dict(reasons.most_common(12)),
        "seconds": time.monotonic() - began,
    }  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=5000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--tuned", action="store_true")
    asked = parser.parse_args()
    found = judged(asked.count, apart=not asked.tuned, first=asked.first, show=True)
    print(json.dumps(found, indent=1, ensure_ascii=False))
