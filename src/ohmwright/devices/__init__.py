"""The catalogue: how each kind of part conducts at DC and how it fails. A new kind is one new entry."""

from __future__ import annotations

from collections.abc import Mapping

from ohmwright.devices import integrated, passive, semiconductor, step_up, unknown
from ohmwright.devices.kind import FaultMode, Kind, Mode, PassPath, neighbouring
from ohmwright.devices.metal import METAL, one_at_dc
from ohmwright.devices.unknown import could_be, taken_as

KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (*passive.KINDS, *semiconductor.KINDS, *integrated.KINDS, *step_up.KINDS, *unknown.KINDS)
}
"""Every kind of part by name."""

__all__ = [
    "KINDS", "METAL", "FaultMode", "Kind", "Mode", "PassPath", "could_be", "neighbouring", "one_at_dc", "taken_as",
]  # fmt: skip
