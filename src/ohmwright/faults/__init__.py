"""Hypotheses about what is wrong, each a pure change of a circuit, with a prior and its source."""

from ohmwright.faults.enumerate import AS_PATH, Prior, hypotheses_of, pairs_with
from ohmwright.faults.hypothesis import NOTHING, Defect, DefectKind, Hypothesis, active_defects
from ohmwright.faults.severity import BINS, DRIFTS, Severity

__all__ = [
    "AS_PATH",
    "BINS",
    "DRIFTS",
    "NOTHING",
    "Defect",
    "DefectKind",
    "Hypothesis",
    "Prior",
    "Severity",
    "active_defects",
    "hypotheses_of",
    "pairs_with",
]
