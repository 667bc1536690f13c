"""The user's own meter where no line leads to it: what its manual says of it, kept in one file and used from then on.

It is a description of a hand-held meter like any other (`ohmwright.instruments.family`). The meter in hand makes a
difference of tens of millivolts in diode mode, so readings of two meters can only be compared if both are known.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

from ohmwright.errors import DataError, UnknownNameError
from ohmwright.facts import HANDHELD, Meter
from ohmwright.instruments.family import HAND_HELD, MODES, SUPPLY, Family, known_families, own_folder, read_family

FIGURES = (
    "diode_current", "diode_compliance", "diode_overload", "ohms_current", "ohms_compliance", "ohms_overload",
    "input_resistance", "lead_resistance",
)  # fmt: skip
"""What a page asks of a meter, in SI units; the limits of each mode come beside."""
LIMITS = ("percent", "counts", "step")


def own_meter_file() -> Path:
    """Where it is kept."""
    return own_folder().parent / "meter.toml"


def own_meter(path: Path | None = None) -> Family | None:
    """The user's own meter, or None where none was described.

    Raises
    ------
    FileFormatError
        If the description is wrong.
    """
    found = path or own_meter_file()
    return read_family(found) if found.exists() else None


def own_model(path: Path | None = None) -> Meter:
    """What readings are taken with unless told otherwise."""
    family = own_meter(path)
    return HANDHELD if family is None else family.meter


def described_meters() -> tuple[Family, ...]:
    """Meters whose description is at hand."""
    return tuple(family for family in known_families() if family.kind != SUPPLY)


def choose_meter(name: str, path: Path | None = None) -> Family:
    """Make a described meter the user's own."""
    known = {family.name: family for family in described_meters()}
    if name not in known:
        raise UnknownNameError.among("described meter", name, known)
    family = known[name]
    limits = {
        mode: {"percent": one.percent, "counts": one.counts, "step": one.step, "full": one.full}
        for mode, quantity in MODES.items()
        if quantity in family.modes and (one := family.modes[quantity].accuracy) is not None
    }
    kept = {field.name: getattr(family.meter, field.name) for field in fields(Meter) if field.name != "name"}
    return _keep(family.name, kept, limits, family.driver, path)


def keep_meter(
    name: str, figures: Mapping[str, float | bool], limits: Mapping[str, Mapping[str, float]],
    path: Path | None = None,
) -> Family:  # fmt: skip
    """Keep what the manual of a meter says, and use it.

    Parameters
    ----------
    figures : mapping
        Some of `FIGURES`, in SI units.
    limits : mapping
        For ``diode``, ``ohms`` and ``volts``: percent of the reading, counts of the last figure, and that figure in
        the lowest range, in SI units.

    Raises
    ------
    DataError
        If a figure cannot be one.
    """
    unknown = [field for field in figures if field not in FIGURES]
    if unknown:
        raise UnknownNameError.among("figure of a meter", unknown[0], FIGURES)
    low = [field for field, value in figures.items() if field != "lead_resistance" and not value > 0]
    if low:
        raise DataError(f"{low[0].replace('_', ' ')} is {figures[low[0]]!r}.", hint="it is more than nothing")
    if not name.strip():
        raise DataError("A meter needs a name.", hint="what is printed on it")
    return _keep(name.strip(), figures, limits, "", path)


def _keep(
    name: str, figures: Mapping[str, Any], limits: Mapping[str, Mapping[str, Any]], driver: str, path: Path | None
) -> Family:
    """Write the description beside, read it as any other, and only then put it in its place."""
    target = path or own_meter_file()
    lines = [f"name = {_word(name)}", f'kind = "{HAND_HELD}"', *([f"sigrok = {_word(driver)}"] if driver else [])]
    lines += ["", "[meter]", *(f"{field} = {_figure(value)}" for field, value in figures.items())]
    for mode, told in limits.items():
        lines += ["", f"[modes.{mode}]", *(f"{field} = {_figure(value)}" for field, value in told.items())]
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(".toml", "meter", target.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        family = read_family(Path(beside))
        Path(beside).replace(target)
    finally:
        Path(beside).unlink(missing_ok=True)
    return family


def _word(text: str) -> str:
    """A TOML basic string (TOML 1.0.0, Strings)."""
    plain = "".join(c if c.isprintable() else " " for c in text[:60])
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _figure(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool | int) else repr(float(value))
