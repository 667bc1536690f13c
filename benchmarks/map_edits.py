"""What one edit of a drawn map costs, beside telling the whole case again, as the map grows.

Prints milliseconds of the processor and, what carries over from machine to machine, how many times dearer a full
retelling is.
Run: python benchmarks/map_edits.py
"""

from __future__ import annotations

import json
import random
import statistics
import time
from collections.abc import Iterator
from pathlib import Path

from ohmwright.casebook import CaseOpened, Event, Happening, Undone, casebook_after, casebook_of
from ohmwright.casebook import events as happened
from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.geometry import Pad

SIZES = (50, 250, 1000)
KINDS = ("capacitor",) * 5 + ("resistor",) * 3 + ("coil", "fuse", "ic", "ic")


def drawn(parts: int, seed: int = 1) -> Iterator[Happening]:
    """A map as it grows under the hand: each part laid, its pads joined to earlier ones or to ground, some silences."""
    chance = random.Random(seed)
    pads: list[str] = []
    for n in range(parts):
        kind = KINDS[n % len(KINDS)]
        name, count = f"X{n}", 8 if kind == "ic" else 2
        pins = tuple(Pin(str(k + 1)) for k in range(count))
        places = tuple(Pad(name, pin.number, n % 40, n // 40, 0.3, 0.3, 0.0, "top") for pin in pins)
        yield happened.PartMapped(Part(name, kind, pins), places)
        for k in range(count):
            pad = f"{name}.{k + 1}"
            if k == count - 1 and kind not in ("coil", "fuse"):
                yield happened.NetTold(pad, ground=True)
            elif pads and chance.random() < 0.7:
                yield happened.PadsJoined(chance.choice(pads[-60:]), pad)
            else:
                pads.append(pad)
                if len(pads) > 2 and chance.random() < 0.2:
                    yield happened.PadsApart(pads[-2], pad)


def milliseconds(parts: int) -> dict[str, float]:
    told: list[Happening] = [CaseOpened(Board("made", "GND", (Net("GND"),), ())), *drawn(parts)]
    events = [Event(n + 1, "2026-01-01T00:00:00.000+00:00", "me", what) for n, what in enumerate(told)]
    book, costs = casebook_of(events[:1]), []
    for event in events[1:]:
        began = time.process_time()
        book = casebook_after(book, event)
        costs.append(1e3 * (time.process_time() - began))
    began = time.process_time()
    whole = casebook_of(events)
    full = 1e3 * (time.process_time() - began)
    assert whole == book, "one at a time is not the same as all at once"
    last = sorted(costs[-200:])
    back = Event(len(events) + 1, "", "me", Undone(len(events)))
    began = time.process_time()
    casebook_after(book, back)
    undo = 1e3 * (time.process_time() - began)
    middle = Event(len(events) + 1, "", "me", Undone(len(events) // 2))
    began = time.process_time()
    casebook_after(book, middle)
    return {
        "parts": parts, "entries": len(events),
        "edit_ms": statistics.median(last), "edit_p95_ms": last[int(0.95 * len(last))],
        "undo_last_ms": undo, "undo_middle_ms": 1e3 * (time.process_time() - began), "full_ms": full,
        "full_over_edit": full / statistics.median(last),
    }  # fmt: skip


def main() -> None:
    rows = [milliseconds(parts) for parts in SIZES]
    for row in rows:
        print(
            f"{row['parts']:5.0f} parts, {row['entries']:5.0f} entries: an edit {row['edit_ms']:6.2f} ms "
            f"(19 of 20 under {row['edit_p95_ms']:.2f}), undo of the last {row['undo_last_ms']:.2f}, of one in the "
            f"middle {row['undo_middle_ms']:.1f}, all anew {row['full_ms']:.0f}: "
            f"{row['full_over_edit']:.0f} times dearer"
        )
    out = Path(__file__).parent / "results" / "map_edits.json"
    out.parent.mkdir(exist_ok=True)
    out.write_text(json.dumps([{k: round(v, 3) for k, v in row.items()} for row in rows], indent=1) + "\n")


if __name__ == "__main__":
    main()
