"""A board as a thin even plate that loses heat from both faces: the closed forms.

k t lap(T) - h T - C dT/dt = -p, with k t the conductance of a square [W/K], h the loss of both faces [W/(m² K)]
and C the heat capacity of an area [J/(m² K)]. A point source of P watts gives P K0(r / L) / (2 pi k t) with
L² = k t / h (Carslaw and Jaeger, "Conduction of Heat in Solids", 2nd ed., 10.3 and 10.4, from memory); driven at
the angular frequency w the same with h + i w C for h. Integrated over the plate, the spreading drops out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import kv

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Plate:
    """How a board carries and loses heat; all three are estimates for a bare board lying in still air.

    Parameters
    ----------
    square : float
        Conductance of a square: 1.6 mm of glass epoxy and half-covered copper. [W/K]
    loss : float
        By both faces, air and radiation. [W/(m² K)]
    capacity : float
        Of an area. [J/(m² K)]
    factor : float
        What `loss` and `capacity` may be wrong by, one standard deviation of the logarithm. [1]
    """

    square: float = 0.014
    loss: float = 20.0
    capacity: float = 3200.0
    factor: float = 0.35

    @property
    def length(self) -> float:
        """Over which heat spreads before it is lost. [m]"""
        return float((self.square / self.loss) ** 0.5)

    @property
    def settling(self) -> float:
        """Time constant of the whole. [s]"""
        return self.capacity / self.loss

    def rise(self, watts: float, r: Array, radius: float = 5e-4) -> Array:
        """Steady rise at distances r from a source of that radius. [K], [m]"""
        near = np.maximum(r, radius)
        return np.asarray(watts * kv(0, near / self.length) / (2.0 * np.pi * self.square))

    def swing(self, watts: float, r: Array, hertz: float, radius: float = 5e-4) -> NDArray[np.complex128]:
        """Complex amplitude for a source that swings by that amplitude. [K]"""
        decay = np.sqrt((self.loss + 2j * np.pi * hertz * self.capacity) / self.square)
        return np.asarray(watts * kv(0, decay * np.maximum(r, radius)) / (2.0 * np.pi * self.square))

    def watts(self, kelvin_area: float, seconds: float | None = None) -> float:
        """Power that made so much rise times area in so many seconds since it went on; None: long ago. [K m²], [s]"""
        reached = 1.0 if seconds is None else -float(np.expm1(-seconds / self.settling))
        return self.loss * kelvin_area / max(reached, 1e-9)

    def watts_swinging(self, kelvin_area: complex, hertz: float) -> float:
        """Amplitude of the power that made so much complex amplitude times area. [K m²], [Hz]"""
        return float(abs(kelvin_area * (self.loss + 2j * np.pi * hertz * self.capacity)))
