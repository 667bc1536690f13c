"""What belongs around any chip: decoupling, crystal, reset, flying capacitors, references, buses."""

from __future__ import annotations

from ohmwright.partbook.circuits.mixes import CAPACITOR, CLAMP, CRYSTAL, RESISTOR
from ohmwright.partbook.circuits.role import Family, Role
from ohmwright.partbook.equations import fixed

_LOAD = fixed(18e-12, 0.35, "8 to 33 pF, twice the crystal's load less the board's")
_FLYING = tuple(
    Role("flying capacitor", (f"CF{n}+", f"CF{n}-"), CAPACITOR, "the pump gives nothing, and may get hot.",
         "the pump gives nothing.",
         worth=fixed(1e-6, 1.2, "0.1 to 10 µF"))
    for n in ("", "1", "2", "3")
)  # fmt: skip
CHIP = Family(
    "chip", "integrated circuit", (("VCC", "VIN", "GND"),),
    (
        Role("decoupling capacitor", ("VCC", "GND"), CAPACITOR, "the rail would be near zero.",
             "more noise; seldom noticed alone.",
             count=3.0, most=60, present=0.97, worth=fixed(100e-9, 0.9, "100 nF, some of 1 to 10 µF")),
        Role("supply feed", ("VCC", "#rail"), (("ferrite", 0.55), ("resistor", 0.25), ("coil", 0.1), ("link", 0.1)),
             "more noise.", "this supply pin is dead.", present=0.15),
        Role("crystal", ("XIN", "XOUT"), CRYSTAL, "no clock.", "no clock.", present=0.9),
        Role("crystal bias", ("XIN", "XOUT"), RESISTOR, "no clock.", "often nothing.", present=0.2, worth=fixed(1e6,
             0.5, "1 to 10 MΩ")),
        Role("crystal load", ("XIN", "GND"), CAPACITOR, "no clock.", "the clock is fast or does not start.",
             present=0.85, worth=_LOAD),
        Role("crystal load", ("XOUT", "GND"), CAPACITOR, "no clock.", "the clock is fast or does not start.",
             present=0.85, worth=_LOAD),
        Role("reset pull-up", ("RESET", "#rail"), RESISTOR, "no reset by button.", "stuck in reset.", present=0.7,
             worth=fixed(10e3, 0.6, "1 to 100 kΩ")),
        Role("reset capacitor", ("RESET", "GND"), CAPACITOR, "stuck in reset.", "may start badly.", present=0.4,
             worth=fixed(100e-9, 0.8, "10 nF to 1 µF")),
        *_FLYING,
        Role("pump output capacitor", ("VREF", "GND"), CAPACITOR, "the inner supply is near zero.", "noisy.",
             count=1.4, most=4,
             present=0.8, worth=fixed(1e-6, 1.0, "0.1 to 10 µF")),
        Role("bias resistor", ("PROG", "GND"), RESISTOR, "wrong inner currents: dead.", "wrong inner currents: dead.",
             worth=fixed(12e3, 0.5, "4.7 to 30 kΩ, mostly 1 %")),
        Role("data series resistor", ("DP", "#any"), RESISTOR, "nothing.", "no data.", present=0.4, worth=fixed(27.0,
             0.3, "22 to 33 Ω")),
        Role("data series resistor", ("DM", "#any"), RESISTOR, "nothing.", "no data.", present=0.4, worth=fixed(27.0,
             0.3, "22 to 33 Ω")),
        Role("data line clamp", ("DP", "GND"), CLAMP, "no data.", "nothing until a discharge.", present=0.3),
        Role("data line clamp", ("DM", "GND"), CLAMP, "no data.", "nothing until a discharge.", present=0.3),
        Role("bus pull-up", ("I2C", "#rail"), RESISTOR, "the bus is stuck high.", "the bus is stuck low.", count=2.0,
             most=4,
             worth=fixed(4.7e3, 0.6, "1 to 10 kΩ (I2C, UM10204 section 7.1)")),
        Role("interrupt pull-up", ("FAULT", "#rail"), RESISTOR, "never interrupts.", "always interrupts.", present=0.5),
        Role("enable pull-up", ("EN", "#rail"), RESISTOR, "always on.", "never on.", present=0.4),
        Role("enable pull-down", ("EN", "GND"), RESISTOR, "never on.", "may float.", present=0.3),
        Role("timing capacitor", ("CT", "GND"), CAPACITOR, "stuck.", "no delay.", present=0.5),
        Role("negative supply capacitor", ("VEE", "GND"), CAPACITOR, "the negative supply is near zero.", "noisy.",
             most=10,
             count=1.5, present=0.8),
    ),
    odds=0.12, most_pins=2000,
)  # fmt: skip
FAMILIES = (CHIP,)
