"""The next test: what each would tell, its minutes and risk, and when to stop."""

from ohmwright.planning.advice import Advice, Caution, Hump, Outcome, Step, Test, TestKind
from ohmwright.planning.advise import advise
from ohmwright.planning.choice import Repairs, best_test, minutes_to_go

__all__ = [
    "Advice",
    "Caution",
    "Hump",
    "Outcome",
    "Repairs",
    "Step",
    "Test",
    "TestKind",
    "advise",
    "best_test",
    "minutes_to_go",
]
