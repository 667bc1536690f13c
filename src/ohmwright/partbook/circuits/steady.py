"""Typical circuits that do not switch: linear regulator, load switch, supervisor, charger, port controller."""

from __future__ import annotations

from ohmwright.partbook.circuits.mixes import (
    BULK, CAPACITOR, CLAMP, COIL, DIODE, FET_EITHER, FET_N, LED, RESISTOR, SENSE,
)  # fmt: skip
from ohmwright.partbook.circuits.role import Family, Latent, Role
from ohmwright.partbook.circuits.switching import (
    BUCK_BOOT, DIVIDER_BOTTOM, DIVIDER_TOP, INPUT_CAPACITOR, INPUT_CLAMP, SHARED,
)  # fmt: skip
from ohmwright.partbook.equations import buck_coil_worth, fixed

_OUTPUT = Role(
    "output capacitor", ("OUT", "GND"), BULK, "the output would be near zero; the chip limits and gets hot.",
    "the output may swing.", count=1.6, present=0.97, most=30, worth=fixed(4.7e-6, 1.0, "1 to 100 µF"),
)  # fmt: skip
_PULL = fixed(47e3, 1.0, "4.7 to 470 kΩ, common practice, no source")
_EN = tuple(role for role in SHARED if role.name.startswith("enable"))
_PG = tuple(role for role in SHARED if role.name.startswith("power-good"))
LINEAR = Family(
    "linear", "linear regulator", (("VIN",), ("OUT",), ("GND", "FB")),
    (
        INPUT_CAPACITOR, INPUT_CLAMP, _OUTPUT, DIVIDER_TOP, DIVIDER_BOTTOM,
        Role("bypass capacitor", ("BYP", "GND"), CAPACITOR, "the output would be low.", "more noise.",
             worth=fixed(10e-9, 0.8, "1 to 100 nF")),
        Role("bypass capacitor", ("FB", "GND"), CAPACITOR, "the output falls to the reference.", "more noise.", present=0.1),
        Role("back-feed diode", ("OUT", "VIN"), DIODE, "the input goes straight onto the output.",
             "nothing until the input is shorted.", present=0.1),
        Role("output indicator resistor", ("OUT", "LMID"), RESISTOR, "the LED burns.", "the LED stays dark.", present=0.1),
        *_EN, *_PG,
    ),
    (Latent("LMID", "OUT"),),
    helps=(("EN", 1.0), ("BYP", 4.0), ("FB", 1.5), ("SW", 0.02), ("CT", 0.3), ("FAULT", 0.2), ("QOD", 0.1), ("ILIM", 0.3),
           ("BAT", 0.2), ("STAT", 0.2)),
    odds=1.0, most_pins=16,
)  # fmt: skip
LOAD_SWITCH = Family(
    "load-switch", "load switch", (("VIN",), ("OUT",), ("EN",)),
    (
        INPUT_CAPACITOR, _OUTPUT,
        Role("slew capacitor", ("CT", "GND"), CAPACITOR, "the switch never opens its channel.", "it turns on with a surge.",
             worth=fixed(1e-9, 1.0, "220 pF to 10 nF")),
        Role("limit resistor", ("ILIM", "GND"), RESISTOR, "the limit is at its end.", "the limit is at its end.",
             worth=fixed(22e3, 0.8, "5 to 250 kΩ")),
        Role("discharge resistor", ("QOD", "OUT"), RESISTOR, "faster discharge.", "the output decays slowly when off.", present=0.4),
        Role("fault pull-up", ("FAULT", "#rail"), RESISTOR, "the fault line is stuck high.", "the fault line is stuck low.",
             worth=_PULL),
        *_EN, *_PG,
    ),
    helps=(("CT", 3.0), ("QOD", 6.0), ("FAULT", 4.0), ("ILIM", 4.0), ("FB", 0.1), ("BYP", 0.1), ("SW", 0.02), ("BAT", 0.2)),
    odds=0.35, most_pins=20,
)  # fmt: skip
SUPERVISOR = Family(
    "supervisor", "reset supervisor", (("RESET",), ("VCC", "VIN", "SENSE")),
    (
        Role("supply capacitor", ("VCC", "GND"), CAPACITOR, "the rail would be near zero.", "resets by noise.", most=3,
             worth=fixed(100e-9, 0.5, "100 nF")),
        Role("reset pull-up", ("RESET", "#rail"), RESISTOR, "reset never asserts.", "reset stays asserted: nothing runs.",
             present=0.6, worth=fixed(10e3, 0.7, "1 to 100 kΩ")),
        Role("delay capacitor", ("CT", "GND"), CAPACITOR, "reset stays asserted: nothing runs.", "no delay.",
             worth=fixed(10e-9, 1.2, "1 nF to 1 µF")),
        Role("manual-reset capacitor", ("MR", "GND"), CAPACITOR, "reset stays asserted.", "nothing.", present=0.4),
        Role("manual-reset pull-up", ("MR", "#rail"), RESISTOR, "the button does nothing.", "random resets.", present=0.4),
        Role("sense divider, upper", ("#rail", "SENSE"), RESISTOR, "the threshold is too low.", "reset stays asserted.",
             present=0.7, worth=_PULL),
        Role("sense divider, lower", ("SENSE", "GND"), RESISTOR, "reset stays asserted.", "reset comes too late.",
             present=0.7, worth=_PULL),
        Role("reset capacitor", ("RESET", "GND"), CAPACITOR, "reset stays asserted: nothing runs.", "nothing.", present=0.2),
    ),
    helps=(("MR", 5.0), ("CT", 3.0), ("SENSE", 3.0), ("SW", 0.02), ("XIN", 0.02), ("I2C", 0.1), ("DP", 0.02)),
    odds=1.0, most_pins=8,
)  # fmt: skip
CHARGER = Family(
    "charger", "charger with or without power path", (("BAT", "SRN"), ("VIN", "VBUS", "VCC", "ACN"), ("PROG", "STAT", "TS", "SYS", "SRP")),
    (
        Role("input capacitor", ("VIN", "GND"), BULK, "the input would be near zero.", "more ripple at the input.",
             count=1.5, present=0.97, most=8, worth=fixed(4.7e-6, 0.8, "1 to 22 µF")),
        Role("input clamp", ("VIN", "GND"), CLAMP, "the input would be near zero.", "nothing until the next surge.", present=0.1),
        Role("battery capacitor", ("BAT", "GND"), BULK, "the battery is shorted: hot at once.",
             "charging may swing; no battery detection.", count=1.5, present=0.97, most=8, worth=fixed(10e-6, 0.7, "1 to 22 µF")),
        Role("system capacitor", ("SYS", "GND"), BULK, "the system rail would be near zero: nothing runs.",
             "the system rail dips.", count=3.0, present=0.97, most=30, worth=fixed(22e-6, 0.8, "10 to 150 µF")),
        Role("middle-rail capacitor", ("PMID", "GND"), CAPACITOR, "input near zero through the blocking switch.",
             "noisy, may not start.", count=1.5, most=5, worth=fixed(10e-6, 0.6, "4.7 to 22 µF")),
        Role("switch coil", ("SW", "SYS"), COIL, "the switches blow.", "no system rail from the adapter.", present=0.9,
             worth=buck_coil_worth),
        Role("switch coil", ("SW", "SRP"), COIL, "the switches blow.", "no charge.", present=0.9, worth=buck_coil_worth),
        Role("switch coil", ("SW", "BAT"), COIL, "the switches blow.", "no charge.", present=0.3, worth=buck_coil_worth),
        Role("bridge coil", ("SW1", "SW2"), COIL, "the switches blow.", "no system rail from the adapter.", present=0.97,
             worth=buck_coil_worth),
        Role("input-side boot capacitor", ("BOOT1", "SW1"), CAPACITOR, "no upper drive: no output.", "no upper drive: no output.",
             worth=fixed(47e-9, 0.5, "22 to 220 nF")),
        Role("output-side boot capacitor", ("BOOT2", "SW2"), CAPACITOR, "no upper drive: no output.", "no upper drive: no output.",
             worth=fixed(47e-9, 0.5, "22 to 220 nF")),
        Role("charge-current sense", ("SRP", "SRN"), SENSE, "no current limit: too high a charge.", "no charge; the pack is cut off.",
             worth=fixed(10e-3, 0.4, "5 to 20 mΩ")),
        Role("sense filter", ("SRP", "SRN"), CAPACITOR, "the charger sees no current.", "noisy.", present=0.5),
        Role("input-current sense", ("ACP", "ACN"), SENSE, "no input limit.", "no power from the adapter.",
             worth=fixed(10e-3, 0.4, "5 to 20 mΩ")),
        Role("sense filter", ("ACP", "ACN"), CAPACITOR, "the charger sees no input current.", "noisy.", present=0.5),
        Role("input switch", ("ACDRV", "VIN", "#rail"), FET_N, "adapter always joined: no protection.", "no power from the adapter.",
             present=0.4, most=2),
        Role("battery switch", ("BATDRV", "SYS", "BAT"), FET_EITHER, "battery always joined.", "no power from the battery.",
             present=0.6, most=2),
        Role("current-setting resistor", ("PROG", "GND"), RESISTOR, "charge current at its end, or off.", "no charge.",
             worth=fixed(2e3, 1.2, "0.3 to 30 kΩ")),
        Role("limit resistor", ("ILIM", "GND"), RESISTOR, "input limit at its highest.", "no charge.", worth=fixed(390.0, 0.8, "100 Ω to 2 kΩ")),
        Role("inner supply capacitor", ("VCC", "GND"), CAPACITOR, "the charger is dead.", "noisy, may not start.", most=2, present=0.95,
             worth=fixed(2.2e-6, 0.7, "1 to 10 µF")),
        Role("status LED", ("STAT", "LMID"), LED, "LED dark, its resistor hot.", "LED dark.", present=0.4),
        Role("status resistor", ("STAT", "LMID"), RESISTOR, "the LED burns.", "LED dark.", present=0.4,
             worth=fixed(1e3, 0.7, "330 Ω to 4.7 kΩ")),
        Role("status LED", ("LMID", "#rail"), LED, "LED dark.", "LED dark.", present=0.4),
        Role("status resistor", ("LMID", "#rail"), RESISTOR, "the LED burns.", "LED dark.", present=0.4,
             worth=fixed(1e3, 0.7, "330 Ω to 4.7 kΩ")),
        Role("status pull-up", ("STAT", "#rail"), RESISTOR, "status stuck high.", "status never rises.", present=0.4, worth=_PULL),
        Role("temperature divider", ("TS", "GND"), RESISTOR, "too hot is reported: no charge.", "too cold is reported: no charge.",
             present=0.8, count=1.3, most=2, worth=fixed(10e3, 0.8, "10 kΩ thermistor and its partner")),
        Role("temperature divider", ("TS", "#rail"), RESISTOR, "too cold is reported: no charge.", "too hot is reported: no charge.",
             present=0.6, worth=fixed(10e3, 0.8, "5 to 30 kΩ")),
        *BUCK_BOOT, *_EN,
    ),
    (Latent("LMID", "STAT"), Latent("BMID", "BOOT")),
    helps=(("PROG", 3.0), ("STAT", 2.0), ("TS", 2.0), ("SYS", 2.0), ("SRP", 2.0), ("XIN", 0.05), ("RESET", 0.2), ("DP", 0.5),
           ("CC1", 0.3)),
    odds=1.5, most_pins=48,
)  # fmt: skip
PORT = Family(
    "port-controller", "port controller (USB-C)", (("CC1",), ("CC2",)),
    (
        Role("CC capacitor", ("CC1", "GND"), CAPACITOR, "no attach is seen on that side.", "nothing that is easy to see.", present=0.5,
             worth=fixed(330e-12, 0.3, "200 to 600 pF (USB Type-C, cReceiver; from memory)")),
        Role("CC capacitor", ("CC2", "GND"), CAPACITOR, "no attach is seen on that side.", "nothing that is easy to see.", present=0.5,
             worth=fixed(330e-12, 0.3, "200 to 600 pF (USB Type-C, cReceiver; from memory)")),
        Role("CC pull-down", ("CC1", "GND"), RESISTOR, "no attach is seen.", "the source never switches VBUS on.", present=0.4,
             worth=fixed(5.1e3, 0.05, "5.1 kΩ (USB Type-C, Rd)")),
        Role("CC pull-down", ("CC2", "GND"), RESISTOR, "no attach is seen.", "the source never switches VBUS on.", present=0.4,
             worth=fixed(5.1e3, 0.05, "5.1 kΩ (USB Type-C, Rd)")),
        Role("CC clamp", ("CC1", "GND"), CLAMP, "no attach is seen.", "nothing until a discharge.", present=0.2),
        Role("CC clamp", ("CC2", "GND"), CLAMP, "no attach is seen.", "nothing until a discharge.", present=0.2),
        Role("VBUS capacitor", ("VBUS", "GND"), BULK, "VBUS near zero: the source stays off.", "more noise.", count=1.5, most=8,
             worth=fixed(1e-6, 1.0, "1 to 10 µF before the switch (USB Type-C)")),
        Role("VBUS clamp", ("VBUS", "GND"), CLAMP, "VBUS near zero: the source stays off.", "nothing until a surge.", present=0.4),
        Role("VBUS switch", ("GATE", "VBUS", "#rail"), FET_EITHER, "VBUS always joined to the board.", "no power from the port.",
             present=0.5, most=2),
        Role("gate resistor", ("GATE", "GMID"), RESISTOR, "faster switching.", "no power from the port.", present=0.3),
        Role("supply capacitor", ("VCC", "GND"), CAPACITOR, "the controller is dead: 5 V at most.", "noisy.", count=2.0, most=6,
             worth=fixed(1e-6, 0.8, "0.1 to 10 µF")),
        Role("VCONN capacitor", ("VCONN", "GND"), CAPACITOR, "no VCONN.", "noisy.", worth=fixed(1e-6, 0.8, "0.1 to 10 µF")),
        Role("bus pull-up", ("I2C", "#rail"), RESISTOR, "the bus is stuck high.", "the bus is stuck low.", count=2.0, most=4,
             worth=fixed(4.7e3, 0.5, "1 to 10 kΩ (I2C, UM10204 section 7.1)")),
        Role("interrupt pull-up", ("FAULT", "#rail"), RESISTOR, "never interrupts.", "always interrupts.", worth=_PULL),
    ),
    (Latent("GMID", "GATE"),), odds=3.0, most_pins=64,
)  # fmt: skip
FAMILIES = (LINEAR, LOAD_SWITCH, SUPERVISOR, CHARGER, PORT)
