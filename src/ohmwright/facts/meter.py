"""What a meter applies to the board and how well it tells what comes back."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Meter:
    """A multimeter as the circuit feels it.

    In diode mode and in ohms it is a current source with a compliance voltage: the current falls to zero
    over the last `knee` ohms below that voltage. In volts it is a resistance.

    Parameters
    ----------
    diode_current, diode_compliance : float
        Test current [A] and open-circuit voltage [V] in diode mode.
    diode_overload : float
        Drop above which the display says OL. [V]
    ohms_current, ohms_compliance : float
        The same in ohms. A low-voltage ohmmeter leaves junctions off. [A], [V]
    ohms_overload : float
        Resistance above which the display says OL. [Ω]
    input_resistance : float
        In volts. [Ω]
    lead_resistance : float
        Of both leads together, if not nulled. [Ω]
    nulled : bool
        Whether the lead resistance was nulled in ohms.
    volts_resolution : float
        Smallest step of the lowest DC volts range. [V]
    diode_resolution, ohms_resolution : float
        Smallest steps in diode mode [V] and in the lowest ohms range [Ω].
    accuracy : float
        Standard uncertainty as a share of the reading. [1]
    four_wire : bool
        Whether ohms are taken with four wires.
    """

    name: str = "hand-held meter"
    diode_current: float = 1.0e-3
    diode_compliance: float = 3.0
    diode_overload: float = 2.0
    ohms_current: float = 0.5e-3
    ohms_compliance: float = 0.5
    ohms_overload: float = 40e6
    input_resistance: float = 10e6
    lead_resistance: float = 0.2
    nulled: bool = False
    volts_resolution: float = 1e-4
    diode_resolution: float = 1e-3
    ohms_resolution: float = 0.1
    accuracy: float = 0.008
    four_wire: bool = False


HANDHELD = Meter()
"""A common hand-held meter: 1 mA and 3 V in diode mode (common practice, no source)."""
