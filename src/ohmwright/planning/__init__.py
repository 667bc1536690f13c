"""The next test: what each would tell, its minutes and risk, and when to stop."""

from ohmwright.planning.advice import Advice, Caution, Hump, Outcome, Step, Test, TestKind
from ohmwright.planning.advise import advise
from ohmwright.planning.choice import Offer, Repairs, best_test, in_order, minutes_to_go, offered

__all__ = [
    "Advice",
    "Caution",
    "Hump",
    "Offer",
    "Outcome",
    "Repairs",
    "Step",
    "Test",
    "TestKind",
    "advise",
    "best_test",
    "in_order",
    "minutes_to_go",
    "offered",
]
