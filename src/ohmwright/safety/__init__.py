"""Rules that decide what may be done to a board, pure and in one place."""

from ohmwright.safety.permit import Notice, Permit, Refusal
from ohmwright.safety.reach import Reached, reached_from
from ohmwright.safety.rules import checked, coils_to_check, permit

__all__ = ["Notice", "Permit", "Reached", "Refusal", "checked", "coils_to_check", "permit", "reached_from"]
