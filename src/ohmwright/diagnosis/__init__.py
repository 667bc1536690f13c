"""Belief: what may be wrong, how firmly it may be claimed, and why."""

from ohmwright.diagnosis.answer import (
    Claim,
    Contradiction,
    Diagnosis,
    Group,
    Level,
    Reason,
    Sign,
    Suspect,
)
from ohmwright.diagnosis.belief import Belief, minimal_sets
from ohmwright.diagnosis.claims import not_cured
from ohmwright.diagnosis.diagnose import diagnose
from ohmwright.diagnosis.posterior import Posterior, posterior_of

__all__ = [
    "Belief",
    "Claim",
    "Contradiction",
    "Diagnosis",
    "Group",
    "Level",
    "Posterior",
    "Reason",
    "Sign",
    "Suspect",
    "diagnose",
    "minimal_sets",
    "not_cured",
    "posterior_of",
]
