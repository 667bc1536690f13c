"""What each hypothesis predicts of what was seen, and how likely what was seen is."""

from ohmwright.evidence.column import Column
from ohmwright.evidence.electrical import Electrical
from ohmwright.evidence.forward import MOST_DEFECTS, Forward
from ohmwright.evidence.joint import Joint, Stack, in_turn, joint
from ohmwright.evidence.probe import Probe, electrical_state, probe_of
from ohmwright.evidence.roster import Register, Roster, roster_of
from ohmwright.evidence.shelf import Shelf, Taken
from ohmwright.evidence.shelves import Line, Shelves
from ohmwright.evidence.shifted import predict_at
from ohmwright.evidence.weighed import Tangent, Weighed

__all__ = [
    "MOST_DEFECTS",
    "Column",
    "Electrical",
    "Forward",
    "Joint",
    "Line",
    "Probe",
    "Register",
    "Roster",
    "Shelf",
    "Shelves",
    "Stack",
    "Taken",
    "Tangent",
    "Weighed",
    "electrical_state",
    "in_turn",
    "joint",
    "predict_at",
    "probe_of",
    "roster_of",
]
