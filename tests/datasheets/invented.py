"""Invented parts with their pins and ratings: what a generated datasheet says, and so what a reader must find."""

from __future__ import annotations

import random
from dataclasses import dataclass


@dataclass(frozen=True)
class PinTruth:
    numbers: tuple[str, ...]
    """Per package: ``1``, ``2, 3``, ``-``."""
    name: str
    kind: str
    words: str


@dataclass(frozen=True)
class RatingTruth:
    parameter: str
    low: str
    typical: str
    high: str
    unit: str


@dataclass(frozen=True)
class PartTruth:
    name: str
    packages: tuple[str, ...]
    pins: tuple[PinTruth, ...]
    limits: tuple[RatingTruth, ...]
    recommended: tuple[RatingTruth, ...]


_PINS = [
    ("VIN", "P", "Supply input of the power stage. Place a ceramic capacitor of at least 10 uF close to this pin."),
    ("PGND", "G", "Power ground."), ("AGND", "G",
    "Quiet ground of the control circuit, joined to PGND at one point only."),
    ("SW", "O", "Switch node. Connect the output coil here."), ("BST", "I",
    "Supply of the upper driver. 100 nF to SW."),
    ("FB", "I", "Feedback input. Regulates to 0.6 V at the middle of the divider."), ("EN/UVLO", "I",
    "Enable with an exact threshold of 1.2 V; do not leave open."),
    ("SS/TR", "I/O", "A capacitor to ground sets the soft start time; an outer voltage below 0.6 V is followed."),
    ("PG", "OD", "Open drain, low while the output is out of its window."), ("COMP", "O",
    "Output of the error amplifier."),
    ("RT/CLK", "I", "A resistor to ground sets the frequency, a clock of 3.3 V sets the beat."), ("VCC", "P",
    "Inner 5 V supply. 1 uF to ground."),
    ("MODE", "I", "High for fixed frequency, low for pulse skipping."), ("ILIM", "I",
    "Sets the current limit by a resistor to AGND."),
    ("NC", "-", "Not connected."), ("SDA", "I/O", "Data line of the bus."), ("SCL", "I", "Clock line of the bus."),
    ("INT", "OD", "Interrupt, active low."),
    ("VBAT", "P", "Battery sense and supply. A drop below 2.8 V puts the part to sleep."), ("TS", "I",
    "Thermistor input, 10 k at 25 C."),
    ("ISET", "I", "Charge current: 1000 V divided by the resistor to ground."), ("OUT1", "O", "First output, 300 mA."),
    ("OUT2", "O", "Second output, 150 mA."),
    ("VREF", "O", "Reference of 1.25 V, 1 mA at most."), ("SYNC", "I", "Takes a beat from 300 kHz to 2.2 MHz."),
    ("VDD", "P", "Logic supply, 1.8 V to 5.5 V."),
    ("D+", "I/O", "Data line, positive."), ("D-", "I/O", "Data line, negative."), ("CC1", "I/O",
    "Configuration channel 1 of the port."), ("CC2", "I/O", "Configuration channel 2 of the port."),
    ("nRST", "I", "Reset, active low, with an inner pull-up of 100 k."), ("GATE", "O",
    "Drives the gate of the outer switch."),
]  # fmt: skip
_LIMITS = [
    ("VIN to GND", "-0.3", "", "20", "V"), ("SW to GND", "-1", "", "22", "V"), ("BST to SW", "-0.3", "", "6", "V"),
    ("EN, FB, PG to GND", "-0.3", "", "6.5", "V"), ("Junction temperature", "-40", "", "150", "°C"),
    ("Storage temperature", "-65", "", "150", "°C"),
    ("Lead temperature, 10 s", "", "", "260", "°C"), ("Continuous output current", "", "", "3.5", "A"),
]  # fmt: skip
_WANTED = [
    ("Input voltage", "4.5", "12", "17", "V"), ("Output voltage", "0.8", "", "5.5", "V"), ("Output current", "0", "",
    "3", "A"),
    ("Output coil", "1", "2.2", "10", "µH"), ("Operating junction temperature", "-40", "", "125", "°C"),
    ("Switching frequency", "300", "600", "2200", "kHz"),
]  # fmt: skip


def invented_part(seed: int, n_packages: int, n_pins: int) -> PartTruth:
    chance = random.Random(seed)
    bodies = chance.sample(["SOIC-8", "QFN-16", "TSSOP-14", "DFN-10", "SOT-23-6", "WLCSP-9"], n_packages)
    name = f"{chance.choice(['OQ', 'NVX', 'KT', 'ZR'])}{chance.randint(1000, 9899)}"
    chosen = chance.sample(_PINS, n_pins)
    counters = [iter([str(k) for k in _shuffled(chance, 4 * n_pins)]) for _ in range(n_packages)]
    pins = []
    for k, (pin, kind, words) in enumerate(chosen):
        numbers = []
        for p in range(n_packages):
            several = pin in ("VIN", "PGND", "SW", "NC") and chance.random() < 0.5
            if p > 0 and k and chance.random() < 0.15:
                numbers.append("-")
            else:
                numbers.append(", ".join(sorted((next(counters[p]) for _ in range(1 + several)), key=int)))
        pins.append(PinTruth(tuple(numbers), pin, kind, words))
    pins.append(
        PinTruth(tuple("EP" for _ in range(n_packages)), "PAD", "G", "Exposed pad. Solder it to the ground plane.")
    )
    limits = tuple(RatingTruth(*row) for row in chance.sample(_LIMITS, 6))
    wanted = tuple(RatingTruth(*row) for row in chance.sample(_WANTED, 5))
    return PartTruth(name, tuple(bodies), tuple(pins), limits, wanted)


def _shuffled(chance: random.Random, n: int) -> list[int]:
    numbers = list(range(1, n + 1))
    if chance.random() < 0.5:
        chance.shuffle(numbers)
    return numbers
