"""Rules that decide what may be done to a board, pure and in one place."""

from ohmwright.safety.permit import Notice, Permit, Refusal

__all__ = ["Notice", "Permit", "Refusal"]
