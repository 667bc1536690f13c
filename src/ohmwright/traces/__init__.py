"""What a supply shows over time and over voltage: steps, levels, periods, knees, and what they say of the board."""

from ohmwright.traces.comparing import Likeness, likeness
from ohmwright.traces.levels import Level, levels_of
from ohmwright.traces.periods import Period, period_of
from ohmwright.traces.signature import Signature, signature_of
from ohmwright.traces.slope import Slope, slope_of
from ohmwright.traces.stages import Stage, StageRead, retrier, stage_of
from ohmwright.traces.sweep import Knee, knee_of
from ohmwright.traces.trace import SupplyTrace, trace_of

__all__ = [
    "Knee",
    "Level",
    "Likeness",
    "Period",
    "Signature",
    "Slope",
    "Stage",
    "StageRead",
    "SupplyTrace",
    "knee_of",
    "levels_of",
    "likeness",
    "period_of",
    "retrier",
    "signature_of",
    "slope_of",
    "stage_of",
    "trace_of",
]
