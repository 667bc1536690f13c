"""Pads of the packages that are offered, against the KiCad footprint library where it is installed (Debian's)."""

import re
from pathlib import Path

import numpy as np
import pytest

from ohmwright.geometry import land_pattern

LIBRARY = Path("/usr/share/kicad/footprints")
SO, TO, CHIP = "Package_SO", "Package_TO_SOT_SMD", "Resistor_SMD"
SAME = [
    *((f"{s}", 2, CHIP, f"R_{s}_*Metric") for s in ("0201", "0402", "0603", "0805", "1206", "1210", "2010", "2512")),
    ("SOT-23-3", 3, TO, "SOT-23"), ("SOT-23-5", 5, TO, "SOT-23-5"), ("SOT-23-6", 6, TO, "SOT-23-6"),
    ("SOT-323-3", 3, TO, "SOT-323_SC-70"), ("SOT-363-6", 6, TO, "SOT-363_SC-70-6"),
    ("SOT-353-5", 5, TO, "SOT-353_SC-70-5"),
    ("power 5x6-5", 5, SO, "PowerPAK_SO-8_Single"), ("power 3x3-5", 5, SO, "Vishay_PowerPAK_1212-8_Single"),
    ("SOT-223-4", 4, TO, "SOT-223"),
    *((f"SOIC-{n}", n, SO, f"SOIC-{n}_3.9x*mm_P1.27mm") for n in (8, 14, 16)),
    ("SOIC-W-16", 16, SO, "SOIC-16W_7.5x10.3mm_P1.27mm"), ("SOIC-20W", 20, SO, "SOIC-20W_7.5x12.8mm_P1.27mm"),
    *((f"TSSOP-{n}", n, SO, f"TSSOP-{n}_4.4x*mm_P0.65mm") for n in (8, 14, 16, 20, 24, 28)),
    ("MSOP-8", 8, SO, "MSOP-8_3x3mm_P0.65mm"), ("MSOP-10", 10, SO, "MSOP-10_3x3mm_P0.5mm"),
    ("QFN-16", 16, "Package_DFN_QFN", "QFN-16-1EP_3x3mm_P0.5mm_EP1.75x1.75mm"),
    ("QFN-20", 20, "Package_DFN_QFN", "QFN-20-1EP_4x4mm_P0.5mm_EP2.5x2.5mm"),
    ("QFN-24", 24, "Package_DFN_QFN", "QFN-24-1EP_4x4mm_P0.5mm_EP2.6x2.6mm"),
    ("QFN-32", 32, "Package_DFN_QFN", "QFN-32-1EP_5x5mm_P0.5mm_EP3.45x3.45mm"),
    ("QFN-48", 48, "Package_DFN_QFN", "QFN-48-1EP_7x7mm_P0.5mm_EP5.3x5.3mm"),
    ("QFN-64", 64, "Package_DFN_QFN", "QFN-64-1EP_9x9mm_P0.5mm_EP4.7x4.7mm"),
    ("DFN-8", 8, "Package_DFN_QFN", "DFN-8-1EP_3x3mm_P0.65mm_EP1.55x2.4mm"),
    ("DFN-6", 6, "Package_DFN_QFN", "DFN-6-1EP_2x2mm_P0.65mm_EP1x1.6mm"),
    ("LQFP-32", 32, "Package_QFP", "LQFP-32_7x7mm_P0.8mm"), ("LQFP-44", 44, "Package_QFP", "LQFP-44_10x10mm_P0.8mm"),
    *((f"LQFP-{n}", n, "Package_QFP", f"LQFP-{n}_*mm_P0.5mm") for n in (48, 64, 80, 100, 144)),
]  # fmt: skip


def pads(library, name):
    """Pad number to centre, from the file's own text."""
    found = sorted((LIBRARY / f"{library}.pretty").glob(f"{name}.kicad_mod"))
    assert found, f"{name} is not installed: `make apt` brings the footprint library"
    text = found[0].read_text()
    each = re.findall(r'\(pad "?([A-Z0-9]+)"? \w+ \w+ \(at ([-\d.]+) ([-\d.]+)', text)
    # A tab and the leads that come out of it share a number: the tab counts.
    return {number: (float(x), float(y)) for number, x, y in each if float(x) != 2.795}


@pytest.mark.parametrize(("package", "count", "library", "name"), SAME, ids=lambda v: str(v))
def test_pads_lie_where_kicad_has_them(package, count, library, name):
    """Within a tenth of the pitch, every numbered pad."""
    theirs = pads(library, name)
    ours = {n.number: (n.x_mm, n.y_mm) for n in land_pattern(package, [str(i + 1) for i in range(count)]).lands}
    both = [number for number in ours if number in theirs and int(number) <= count]
    assert len(both) == count
    a, b = (np.array([which[number] for number in both]) for which in (ours, theirs))
    between = np.hypot(*(b[:, None] - b[None]).transpose(2, 0, 1)) + np.eye(count) * 1e9
    pitch = float(between.min())
    assert float(np.hypot(*(a - b).T).max()) < max(0.1 * pitch, 0.03 * (count == 2))


def counter_clockwise(at):
    """Whether points follow each other so, seen from the top where y points down."""
    x, y = np.array(at, dtype=float).T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) < 0.0


FAMILIES = {"Package_SO": 2, "Package_QFP": 0, "Package_DFN_QFN": 1, "Package_DIP": 1}
"""Footprints of Debian's library 6.0.11 whose pins run the other way: TSOP type I with its lead frame turned over, dual
PowerPAKs, one XDFN, one eDIP. They are looked up and not guessed; no style that is offered is among them."""


@pytest.mark.parametrize("family", FAMILIES)
def test_pins_run_counter_clockwise_as_jedec_counts_them(family):
    """JEDEC JEP95's rule against every footprint of four families, and against the styles that are offered."""
    ways = []
    for file in sorted((LIBRARY / f"{family}.pretty").glob("*.kicad_mod")):
        found = {int(number): at for number, at in pads(family, file.stem).items() if number.isdigit()}
        # The pad below lies in the middle and counts last.
        rim = [found[n] for n in sorted(found) if max(map(abs, found[n])) > 0.05 or family == "Package_DIP"]
        if len(rim) > 3:
            ways.append(counter_clockwise(rim))
    assert len(ways) > 80
    assert ways.count(False) <= FAMILIES[family]
    for package, count, library, _ in SAME:
        if library == family and count > 4 and not package.startswith("power"):
            lands = land_pattern(package, [str(n + 1) for n in range(count)]).lands
            ours = sorted((land for land in lands if int(land.number) <= count), key=lambda land: int(land.number))
            assert counter_clockwise([(land.x_mm, land.y_mm) for land in ours]), package


def test_rows_of_balls_are_lettered_as_ipc_7351_does():
    """Without I, O, Q, S, X and Z (14.2.5); one of the library's footprints has an I, none that is offered."""
    odd = []
    for file in sorted((LIBRARY / "Package_BGA.pretty").glob("*.kicad_mod")):
        names = set(re.findall(r'\(pad "?([A-Z]{1,2})\d+"? ', file.read_text()))
        if names & set("IOQSXZ"):
            odd.append(file.stem)
    assert len(odd) <= 1
    ours = land_pattern("BGA-256", [str(n) for n in range(256)]).lands
    rows = list(dict.fromkeys(land.number.rstrip("0123456789") for land in ours))
    assert rows == list("ABCDEFGHJKLMNPRT")
    assert [land.y_mm for land in ours] == sorted(land.y_mm for land in ours)
