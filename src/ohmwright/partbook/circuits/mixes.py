"""Weights of kinds that stand at a place of a typical circuit. Estimates, but for what no place leaves open."""

from __future__ import annotations

CAPACITOR = (("capacitor", 0.97), ("resistor", 0.02), ("diode", 0.01))
BULK = (("capacitor", 0.86), ("polymer", 0.10), ("tvs", 0.02), ("resistor", 0.02))
RESISTOR = (("resistor", 0.95), ("capacitor", 0.03), ("link", 0.02))
COIL = (("coil", 0.97), ("ferrite", 0.02), ("link", 0.01))
SCHOTTKY = (("schottky", 0.88), ("diode", 0.11), ("capacitor", 0.01))
DIODE = (("diode", 0.70), ("schottky", 0.30))
CLAMP = (("tvs", 0.75), ("tvs-two-way", 0.2), ("diode", 0.05))
LED = (("led", 0.97), ("resistor", 0.03))
SENSE = (("sense", 0.85), ("resistor", 0.13), ("link", 0.02))
CRYSTAL = (("crystal", 0.99), ("resistor", 0.01))
FET_N = (("fet-n", 0.95), ("fet-p", 0.05))
FET_EITHER = (("fet-n", 0.6), ("fet-p", 0.4))
