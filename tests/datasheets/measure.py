"""How much of a generated datasheet is found, and how much of what is found is right."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.datasheets.invented import PartTruth
from tests.datasheets.layouts import Style, datasheet

from ohmwright.datasheets import Sheet, read_sheet


@dataclass(frozen=True)
class Found:
    right: int = 0
    told: int = 0
    true: int = 0

    def __add__(self, other: Found) -> Found:
        return Found(self.right + other.right, self.told + other.told, self.true + other.true)

    @property
    def precision(self) -> float:
        return self.right / self.told if self.told else 1.0

    @property
    def recall(self) -> float:
        return self.right / self.true if self.true else 1.0


def pins_found(sheet: Sheet, truth: PartTruth) -> Found:
    """Pairs of (package, pin number, name); a sheet of one package need not name it."""
    true = {
        (k, number, pin.name)
        for pin in truth.pins
        for k, numbers in enumerate(pin.numbers)
        for number in numbers.split(", ")
        if number != "-"
    }
    told = set()
    for found in sheet.pins:
        k = truth.packages.index(found.package) if found.package in truth.packages else 0
        told |= {(k, number, "PAD" if row.name == "EP" else row.name) for row in found.rows for number in row.pins}
    return Found(len(true & told), len(told), len(true))


def words_found(sheet: Sheet, truth: PartTruth) -> Found:
    """Descriptions that came over whole."""
    told = {("PAD" if row.name == "EP" else row.name, row.words) for found in sheet.pins for row in found.rows}
    true = {(pin.name, pin.words) for pin in truth.pins}
    return Found(len({n for n, _ in true & told}), len({n for n, _ in told}), len(true))


def limits_found(sheet: Sheet, truth: PartTruth) -> Found:
    def number(text: str) -> float | None:
        return float(text) if text else None

    true = {("absolute", r.parameter, number(r.low), None, number(r.high), r.unit) for r in truth.limits}
    true |= {
        ("recommended", r.parameter, number(r.low), number(r.typical), number(r.high), r.unit)
        for r in truth.recommended
    }
    told = {(r.sort, r.parameter, r.low, r.typical, r.high, r.unit.replace("μ", "µ")) for r in sheet.ratings}
    return Found(len(true & told), len(told), len(true))


def measured(style: Style, folder: Path, seeds: range) -> dict[str, Found]:
    sums = {"pins": Found(), "words": Found(), "limits": Found(), "circuit": Found(), "package": Found()}
    for seed in seeds:
        path = folder / f"{seed}.pdf"
        truth = datasheet(path, style, seed)
        sheet = read_sheet(path)
        sums["pins"] += pins_found(sheet, truth)
        if "words" in style.order:
            sums["words"] += words_found(sheet, truth)
        sums["limits"] += limits_found(sheet, truth)
        sums["circuit"] += Found(
            int(bool(sheet.circuits) and sheet.circuits[0].at.page == 1), int(bool(sheet.circuits)), 1
        )
        bodies = {name for name, _ in sheet.bodies}
        sums["package"] += Found(len(bodies & set(truth.packages)), len(bodies), len(truth.packages))
    return sums
