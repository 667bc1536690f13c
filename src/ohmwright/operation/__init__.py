"""What conducts because of how the board stands: parts off, wires, and switches that a feed closes."""

from ohmwright.operation.passes import switched_on
from ohmwright.operation.wiring import Wiring, alone, volts_at_least, wiring_of

__all__ = ["Wiring", "alone", "switched_on", "volts_at_least", "wiring_of"]
