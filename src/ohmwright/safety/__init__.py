"""Rules that decide what may be done to a board, pure and in one place."""

from ohmwright.safety.in_force import entry_volts, hand_work, in_force
from ohmwright.safety.permit import Notice, Permit, Refusal
from ohmwright.safety.reach import Reached, reached_from
from ohmwright.safety.rules import NO_TOUCH, checked, coils_to_check, permit
from ohmwright.safety.solvent import is_wet

__all__ = [
    "NO_TOUCH",
    "Notice",
    "Permit",
    "Reached",
    "Refusal",
    "checked",
    "coils_to_check",
    "entry_volts",
    "hand_work",
    "in_force",
    "is_wet",
    "permit",
    "reached_from",
]
