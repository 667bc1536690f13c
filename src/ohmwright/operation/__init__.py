"""What conducts because of how the board stands: parts off, wires, and switches that a feed closes."""

from ohmwright.operation.passes import switched_on
from ohmwright.operation.volts import REGULATED, volts_at_least, volts_known
from ohmwright.operation.wiring import SWITCHING, Wiring, alone, coil_missing, hidden_pin, wiring_of

__all__ = [
    "REGULATED", "SWITCHING", "Wiring", "alone", "coil_missing", "hidden_pin", "switched_on", "volts_at_least",
    "volts_known", "wiring_of",
]  # fmt: skip
