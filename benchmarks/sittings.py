"""The display reader over whole sittings: one meter before one camera, and what is asked is answered and learnt from.

    PYTHONPATH=src:. python benchmarks/sittings.py --sittings 60 --first 1000

Whatever is not read within five pictures is asked and the answer given, so that the share read grows with the
readings; read, asked and wrong are told for readings 1 to 10, 11 to 20 and 21 to 40. Wrong is an answer whose figures,
unit or hold mark are not the truth. The interval is Wilson's of 95 % over readings (readings of one sitting hang
together, so the mean over sittings and its standard error are given too).
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import time
from collections import Counter

from tests.displays.sittings import CONDITIONS, Look, sitting

from benchmarks.displays import canonical
from ohmwright.pictures.display.eye import DisplayEye

Wrong = tuple[int, int, str, str, tuple[str, ...], tuple[str, str, bool]]
SPANS = {"1-10": (0, 10), "11-20": (10, 20), "21-40": (20, 40)}


def answered(eye: DisplayEye, look: Look, at: float) -> tuple[tuple[str, str, bool] | None, str]:
    """What is believed within the pictures of one reading, and why not."""
    why = ""
    for k, (picture, corners) in enumerate(look.frames):
        looked = eye.look_at(picture, corners, at + 0.2 * k)
        why = looked.read.why
        state = eye.says
        if looked.believed is not None and state is not None:
            return (state[0], state[1], "HOLD" in state[2]), ""
    return None, why


def one_sitting(seed: int, condition: str, *, apart: bool) -> tuple[list[str], list[str], list[Wrong]]:
    """Of each reading: read, asked or wrong; why asked; and the wrong ones."""
    eye = DisplayEye()
    results: list[str] = []
    reasons: list[str] = []
    wrong: list[Wrong] = []
    for number, look in enumerate(sitting(seed, condition, apart=apart, readings=40)):
        said, why = answered(eye, look, 100.0 * number)
        text = "OL" if "L" in look.truth.text else look.truth.text
        right = (canonical(text), look.truth.unit, "HOLD" in look.truth.words)
        if said is None:
            results.append("asked")
            reasons.append(f"{'later' if number >= 20 else 'early'}: {why}")
            told = tuple(w for w in ("HOLD", "diode") if w in look.truth.words)
            eye.shows(look.truth.text, look.truth.unit, told)
        elif (canonical(said[0]), *said[1:]) == right:
            results.append("read")
        else:
            results.append("wrong")
            wrong.append((seed, number, text, look.truth.unit, look.truth.words, said))
        eye.turn()
    return results, reasons, wrong


def wilson(hits: int, n: int) -> tuple[float, float]:
    """95 % interval of a share."""
    if n == 0:
        return 0.0, 1.0
    p, z = hits / n, 1.96
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return (middle - half) / (1 + z * z / n), (middle + half) / (1 + z * z / n)


def judged(condition: str, first: int, count: int, *, apart: bool, seconds: float = 1e9) -> dict[str, object]:
    """Sittings of one condition."""
    spans: dict[str, Counter[str]] = {span: Counter() for span in SPANS}
    each: dict[str, list[float]] = {span: [] for span in SPANS}
    reasons: Counter[str] = Counter()
    wrong: list[Wrong] = []
    began, done = time.monotonic(), 0
    for seed in range(first, first + count):
        if time.monotonic() - began > seconds:
            break
        results, why, bad = one_sitting(seed, condition, apart=apart)
        done += 1
        reasons.update(why)
        wrong += bad
        for span, (a, b) in SPANS.items():
            spans[span].update(results[a:b])
            each[span].append(results[a:b].count("read") / (b - a))
    out: dict[str, object] = {"sittings": done, "apart": apart}
    for span, tally in spans.items():
        n = sum(tally.values())
        error = statistics.stdev(each[span]) / math.sqrt(done) if done > 1 else 0.0
        low, high = wilson(tally["read"], n)
        out[span] = {
            "n": n, "read": round(tally["read"] / max(n, 1), 3), "wilson": (round(low, 3), round(high, 3)),
            "over sittings +-": round(1.96 * error, 3), "wrong": tally["wrong"],
        }  # fmt: skip
    total = sum(sum(t.values()) - t["asked"] for t in spans.values())
    out |= {"answered": total, "wrong": wrong[:10], "wrong upper 95 %": round(3 / max(total, 1), 5),
            "asked why": dict(reasons.most_common(10)), "seconds": round(time.monotonic() - began)}  # fmt: skip
    return out


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--sittings", type=int, default=60)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--tuned", action="store_true")
    parser.add_argument("--conditions", nargs="+", default=list(CONDITIONS), choices=list(CONDITIONS))
    parser.add_argument("--seconds", type=float, default=1e9, help="after which no further sitting is begun, each")
    given = parser.parse_args()
    for name in given.conditions:
        found = judged(name, given.first, given.sittings, apart=not given.tuned, seconds=given.seconds)
        print(name, json.dumps(found, indent=1, ensure_ascii=False), flush=True)
