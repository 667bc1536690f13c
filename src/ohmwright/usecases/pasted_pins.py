"""Read a pin table that was pasted, for somebody to look over before it is taken."""

from __future__ import annotations

from ohmwright.partbook.pin_table import PinRow, PinTable, read_pin_table

__all__ = ["PinRow", "PinTable", "pasted_pins"]


def pasted_pins(text: str, column: int = 0) -> PinTable:
    """The pins in a pasted text; `column` chooses the package where several stand side by side. [1]"""
    return read_pin_table(text, column)
