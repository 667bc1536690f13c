"""Datasheets in PDF: pin tables, limits, conditions, packages and the typical circuit, each with its page."""

from ohmwright.datasheets.figures import At, Figure
from ohmwright.datasheets.paper import Box, Page, Paper, Word, page_picture, read_paper
from ohmwright.datasheets.sheet import PinsFound, Rated, Sheet, read_sheet, sheet_of

__all__ = [
    "At", "Box",
    "Figure", "Page", "Paper", "PinsFound", "Rated", "Sheet", "Word", "page_picture", "read_paper", "read_sheet",
    "sheet_of",
]  # fmt: skip
