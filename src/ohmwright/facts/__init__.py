"""What was seen and measured: values only, no judgement."""

from ohmwright.facts.case_facts import CURES, TRIALS, Act, Deed, EntryFact, Facts, Override, Symptom
from ohmwright.facts.gradient import CopperShape, Gradient, GradientPoint, Run
from ohmwright.facts.meter import HANDHELD, Meter
from ohmwright.facts.observation import Heat, HeatFinding, Look, LookFinding
from ohmwright.facts.reading import FED, LOOSE, Quantity, Reading
from ohmwright.facts.trace import Behaviour, TraceSeen

__all__ = [
    "CURES",
    "FED",
    "HANDHELD",
    "LOOSE",
    "TRIALS",
    "Act",
    "Behaviour",
    "CopperShape",
    "Deed",
    "EntryFact",
    "Facts",
    "Gradient",
    "GradientPoint",
    "Heat",
    "HeatFinding",
    "Look",
    "LookFinding",
    "Meter",
    "Override",
    "Quantity",
    "Reading",
    "Run",
    "Symptom",
    "TraceSeen",
]
