"""What each hypothesis predicts of what was seen, and how likely what was seen is."""

from ohmwright.evidence.electrical import Electrical, Line
from ohmwright.evidence.forward import Column, Forward
from ohmwright.evidence.joint import Joint, Stack, joint, relinearised
from ohmwright.evidence.probe import Probe, electrical_state, probe_of

__all__ = [
    "Column",
    "Electrical",
    "Forward",
    "Joint",
    "Line",
    "Probe",
    "Stack",
    "electrical_state",
    "joint",
    "probe_of",
    "relinearised",
]
