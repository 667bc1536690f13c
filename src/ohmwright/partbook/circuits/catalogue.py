"""All families of typical circuits."""

from __future__ import annotations

from ohmwright.partbook.circuits import chips, steady, switching
from ohmwright.partbook.circuits.role import Family

FAMILIES: tuple[Family, ...] = (*switching.FAMILIES, *steady.FAMILIES, *chips.FAMILIES)
"""Every family."""
