"""Typical circuits around switching converters with their switches inside: buck, boost, buck-boost."""

from __future__ import annotations

from ohmwright.partbook.circuits.mixes import BULK, CAPACITOR, CLAMP, COIL, DIODE, RESISTOR, SCHOTTKY
from ohmwright.partbook.circuits.role import Family, Latent, Role
from ohmwright.partbook.equations import boost_coil_worth, buck_coil_worth, fixed, rail_capacitor_worth

_BOOT = fixed(100e-9, 0.45, "47 to 470 nF, common practice, no source")
_RAIL_SHORT = "{b} would be near zero and the supply at its limit."

INPUT_CAPACITOR = Role(
    "input capacitor", ("VIN", "GND"), BULK, _RAIL_SHORT.replace("{b}", "the input"),
    "more ripple at the input; the converter may ring or trip, and the rail still reads right.",
    count=2.0, present=0.98, most=20, worth=fixed(10e-6, 0.9, "1 to 47 µF, common practice, no source"),
)  # fmt: skip
INPUT_CLAMP = Role(
    "input clamp", ("VIN", "GND"), CLAMP, "the input would be near zero.",
    "nothing until the next surge.", present=0.08,
)  # fmt: skip
OUTPUT_CAPACITOR = Role(
    "output capacitor", ("OUT", "GND"), BULK,
    "the output would be near zero; the converter retries or stays off.",
    "ripple on the output rises; with all of them open it would not regulate.",
    count=2.0, present=0.98, most=30, worth=rail_capacitor_worth,
)  # fmt: skip
OUTPUT_BLEED = Role(
    "output bleed", ("OUT", "GND"), RESISTOR, "the output would be near zero.", "the output decays slowly when off.",
    present=0.05,
)  # fmt: skip
DIVIDER_TOP = Role(
    "feedback divider, upper", ("OUT", "FB"), RESISTOR,
    "the output would fall to the reference, 0.5 to 1.3 V.",
    "feedback would see 0 V: the output runs away towards the input. Do not feed it.",
    present=0.85, worth=fixed(100e3, 1.0, "10 kΩ to 1 MΩ, ratio Vout/Vref - 1"),
)  # fmt: skip
DIVIDER_BOTTOM = Role(
    "feedback divider, lower", ("FB", "GND"), RESISTOR,
    "feedback would see 0 V: the output runs away towards the input. Do not feed it.",
    "the output would fall to the reference, 0.5 to 1.3 V.",
    present=0.85, worth=fixed(27e3, 1.0, "5 to 300 kΩ, ratio Vout/Vref - 1"),
)  # fmt: skip
FEED_FORWARD = Role(
    "feed-forward capacitor", ("OUT", "FB"), CAPACITOR,
    "the output would fall to the reference.", "slower answer to load steps, nothing more.",
    present=0.35, worth=fixed(22e-12, 0.8, "5 to 220 pF, common practice, no source"),
)  # fmt: skip
FEEDBACK_FILTER = Role(
    "feedback filter", ("FB", "GND"), CAPACITOR,
    "feedback would see 0 V: the output runs away towards the input.", "nothing that is easy to see.", present=0.06,
)  # fmt: skip
SHARED = (
    Role("soft-start capacitor", ("SS", "GND"), CAPACITOR, "the converter would never start.",
         "it starts at once, with a surge.", worth=fixed(10e-9, 0.8, "1 to 100 nF, common practice, no source")),
    Role("compensation resistor", ("COMP", "CMID"), RESISTOR, "the loop may ring.",
         "the output would swing or stay low.",
         present=0.9, worth=fixed(10e3, 1.0, "1 to 100 kΩ, common practice, no source")),
    Role("compensation capacitor", ("CMID", "GND"), CAPACITOR, "the loop has little gain; the output is low.",
         "the output would swing.", present=0.9, worth=fixed(4.7e-9, 1.0, "0.3 to 50 nF, common practice, no source")),
    Role("compensation filter", ("COMP", "GND"), CAPACITOR, "nothing would switch.", "nothing that is easy to see.",
         present=0.5, worth=fixed(100e-12, 1.2, "10 pF to 1 nF, common practice, no source")),
    Role("power-good pull-up", ("PG", "#rail"), RESISTOR, "power-good would be stuck high.",
         "power-good would never rise, so what waits for it stays off.",
         worth=fixed(100e3, 0.7, "10 to 470 kΩ, common practice, no source")),
    Role("inner supply capacitor", ("VCC", "GND"), CAPACITOR,
         "the inner supply would be near zero: nothing switches, the rails read healthy.",
         "the inner supply is noisy; it may not start.", count=1.2, most=3, present=0.95,
         worth=fixed(1e-6, 0.8, "0.1 to 10 µF, common practice, no source")),
    Role("frequency resistor", ("RT", "GND"), RESISTOR, "frequency at its end; hot or dead.",
         "frequency at its end or off."),
    Role("limit resistor", ("ILIM", "GND"), RESISTOR, "the limit is wrong, mostly lowest or off.",
         "the limit is wrong, mostly highest or off."),
    Role("enable pull-up", ("EN", "VIN"), RESISTOR, "EN at the input: above its rating on some chips.",
         "EN stays low: the converter never starts.", present=0.45, worth=fixed(100e3, 0.8, "10 kΩ to 1 MΩ")),
    Role("enable pull-up", ("EN", "#rail"), RESISTOR, "EN at the rail.", "EN stays low: it never starts.",
         present=0.15, worth=fixed(100e3, 0.8, "10 kΩ to 1 MΩ")),
    Role("enable pull-down", ("EN", "GND"), RESISTOR, "EN at ground: the converter never starts.",
         "it starts earlier, or by itself.", present=0.35, worth=fixed(100e3, 0.8, "10 kΩ to 1 MΩ")),
    Role("enable delay", ("EN", "GND"), CAPACITOR, "EN at ground: the converter never starts.", "it starts earlier.",
         present=0.15, worth=fixed(100e-9, 1.0, "common practice, no source")),
)  # fmt: skip
_SNUBBER = (
    Role("snubber resistor", ("SW", "SNUB"), RESISTOR, "the snubber capacitor alone: hotter, still runs.",
         "more ringing, nothing else.", present=0.12, worth=fixed(4.7, 0.7, "1 to 22 Ω, common practice, no source")),
    Role("snubber capacitor", ("SNUB", "GND"), CAPACITOR, "the resistor burns: a few ohms from switch node to ground.",
         "more ringing, nothing else.", present=0.12, worth=fixed(470e-12, 0.8, "100 pF to 2.2 nF")),
)  # fmt: skip
_BOOT_SHORT = (
    "the upper switch would get no drive and not turn on, so the output stays off; no rail is pulled to ground by it."
)
BUCK_BOOT = (
    Role("boot capacitor", ("BOOT", "SW"), CAPACITOR, _BOOT_SHORT, "the upper switch gets no drive: no output.",
         present=0.95, worth=_BOOT),
    Role("boot resistor", ("BOOT", "BMID"), RESISTOR, "faster edges, nothing else.", "no drive: no output.",
         present=0.08,
         worth=fixed(2.2, 0.8, "0 to 10 Ω")),
    Role("boot capacitor behind its resistor", ("BMID", "SW"), CAPACITOR, _BOOT_SHORT, "no drive: no output.",
         present=0.08, worth=_BOOT),
    Role("boot diode", ("VCC", "BOOT"), DIODE, "boot is tied to the inner supply: it may destroy the driver.",
         "no drive: no output.", present=0.15),
)  # fmt: skip
BUCK = Family(
    "buck", "buck regulator", (("SW",), ("VIN",), ("GND",), ("FB", "BOOT", "OUT", "COMP", "EN")),
    (
        Role("output coil", ("SW", "OUT"), COIL, "no ripple current limit: the switches blow at first power.",
             "no output; switch node alive, both ends differ in diode mode.", present=0.99, worth=buck_coil_worth),
        *BUCK_BOOT, INPUT_CAPACITOR, INPUT_CLAMP, OUTPUT_CAPACITOR, OUTPUT_BLEED,
        Role("catch diode", ("GND", "SW"), SCHOTTKY, "switch node and output near zero.",
             "the switch flies below ground and fails soon.", present=0.25),
        DIVIDER_TOP, DIVIDER_BOTTOM, FEED_FORWARD, FEEDBACK_FILTER, *_SNUBBER, *SHARED,
    ),
    (Latent("OUT", "SW", True), Latent("SNUB", "SW"), Latent("BMID", "BOOT"), Latent("CMID", "COMP")),
    helps=(("FB", 2.0), ("BOOT", 4.0), ("EN", 1.3), ("BAT", 0.15), ("STAT", 0.2), ("SYS", 0.2), ("CC1", 0.2)),
    odds=1.0, most_pins=40, channels=True,
)  # fmt: skip
BOOST = Family(
    "boost", "boost regulator", (("SW",), ("VIN", "OUT"), ("GND",)),
    (
        Role("input coil", ("VIN", "SW"), COIL, "the input goes straight through the switch: input at its limit.",
             "no output above the input; the output reads nothing through the coil.", present=0.97,
             worth=boost_coil_worth),
        Role("rectifier", ("SW", "OUT"), SCHOTTKY, "output joined to the switch: near zero when it switches.",
             "no output; the switch flies up and fails.", present=0.7),
        INPUT_CAPACITOR, OUTPUT_CAPACITOR, OUTPUT_BLEED,
        DIVIDER_TOP, DIVIDER_BOTTOM, FEED_FORWARD, *_SNUBBER, *SHARED,
        Role("string sense resistor", ("FB", "GND"), (("sense", 0.5), ("resistor", 0.5)),
             "the string current is too high.",
             "the strings stay dark.", present=0.1),
    ),
    (Latent("OUT", "SW", True), Latent("SNUB", "SW"), Latent("CMID", "COMP")),
    helps=(("FB", 2.0), ("BOOT", 0.1), ("OUT", 1.2), ("BAT", 0.3), ("STAT", 0.2), ("CC1", 0.2)),
    odds=0.45, most_pins=40, channels=True,
)  # fmt: skip
BUCK_BOOST = Family(
    "buck-boost", "buck-boost regulator", (("SW1",), ("SW2",), ("VIN",), ("OUT", "SYS")),
    (
        Role("bridge coil", ("SW1", "SW2"), COIL, "one leg feeds the other: the switches blow.",
             "no output.", present=0.99, worth=boost_coil_worth),
        Role("input-side boot capacitor", ("BOOT1", "SW1"), CAPACITOR, _BOOT_SHORT, "no drive on the input side.",
             worth=_BOOT),
        Role("output-side boot capacitor", ("BOOT2", "SW2"), CAPACITOR, _BOOT_SHORT, "no drive on the output side.",
             worth=_BOOT),
        INPUT_CAPACITOR, INPUT_CLAMP, OUTPUT_CAPACITOR, OUTPUT_BLEED,
        DIVIDER_TOP, DIVIDER_BOTTOM, FEED_FORWARD, *SHARED,
    ),
    (Latent("CMID", "COMP"),),
    helps=(("BAT", 0.2), ("FB", 1.5)), odds=1.0, most_pins=40,
)  # fmt: skip
CONTROLLER = Family(
    "buck-controller", "buck controller with switches outside", (("HO",), ("LO",), ("SW",), ("BOOT",), ("FB", "COMP",
    "OUT")),
    (
        Role("upper switch", ("HO", "VIN", "SW"), (("fet-n", 0.97), ("fet-p", 0.03)),
             "input straight onto the output: it destroys the load. Read input to switch node before feeding.",
             "no output.", present=0.85, most=3, count=1.2),
        Role("lower switch", ("LO", "SW", "GND"), (("fet-n", 1.0),), "switch node and output near zero.",
             "hot and noisy: the current goes through its body diode.", present=0.85, most=4, count=1.3),
        Role("output coil", ("SW", "OUT"), COIL, "the switches blow at first power.", "no output.", present=0.99,
             worth=buck_coil_worth),
        Role("gate resistor", ("HO", "HMID"), RESISTOR, "faster edges.", "the upper switch never turns on.",
             present=0.2),
        Role("upper gate bleed", ("HO", "SW"), RESISTOR, "the upper switch never turns on.",
             "its gate floats when off: it may half conduct.", present=0.15),
        Role("lower gate bleed", ("LO", "GND"), RESISTOR, "the lower switch never turns on.",
             "its gate floats when off.",
             present=0.15),
        *BUCK_BOOT, INPUT_CAPACITOR, OUTPUT_CAPACITOR, DIVIDER_TOP, DIVIDER_BOTTOM, FEED_FORWARD, *_SNUBBER, *SHARED,
    ),
    (Latent("OUT", "SW", True), Latent("SNUB", "SW"), Latent("BMID", "BOOT"), Latent("CMID", "COMP"), Latent("HMID",
    "HO")),
    odds=6.0, most_pins=48, channels=True,
)  # fmt: skip
DRIVER = Family(
    "gate-driver", "gate driver", (("HO",), ("LO",), ("SW",), ("BOOT",), ("HI", "LI", "EN")),
    (
        Role("upper switch", ("HO", "#rail", "SW"), (("fet-n", 1.0),), "the bus straight onto the switch node.",
             "the upper side never turns on.", present=0.6),
        Role("lower switch", ("LO", "SW", "GND"), (("fet-n", 1.0),), "switch node at ground.",
             "the lower side never turns on.",
             present=0.6),
        Role("gate resistor", ("HO", "HMID"), RESISTOR, "faster edges.", "the upper side never turns on.", present=0.7,
             worth=fixed(10.0, 0.8, "2 to 47 Ω, common practice, no source")),
        Role("gate resistor", ("LO", "LMID"), RESISTOR, "faster edges.", "the lower side never turns on.", present=0.7,
             worth=fixed(10.0, 0.8, "2 to 47 Ω, common practice, no source")),
        Role("turn-off diode", ("HO", "HMID"), DIODE, "faster edges.", "slower turn-off, hotter.", present=0.2),
        Role("turn-off diode", ("LO", "LMID"), DIODE, "faster edges.", "slower turn-off, hotter.", present=0.2),
        Role("upper gate bleed", ("HMID", "SW"), RESISTOR, "the upper side never turns on.",
             "its gate floats when off.",
             present=0.4, worth=fixed(10e3, 0.7, "4.7 to 100 kΩ")),
        Role("lower gate bleed", ("LMID", "GND"), RESISTOR, "the lower side never turns on.",
             "its gate floats when off.",
             present=0.4, worth=fixed(10e3, 0.7, "4.7 to 100 kΩ")),
        *BUCK_BOOT,
        Role("driver supply capacitor", ("VCC", "GND"), CAPACITOR, "no gate drive at all.", "weak drive, hot switches.",
             count=1.5, most=4, worth=fixed(1e-6, 0.8, "0.1 to 10 µF")),
    ),
    (Latent("HMID", "HO"), Latent("LMID", "LO"), Latent("BMID", "BOOT")), odds=5.0, most_pins=32,
    helps=(("HI", 2.0), ("LI", 2.0), ("FB", 0.1), ("COMP", 0.2)),
)  # fmt: skip
FAMILIES = (BUCK, BOOST, BUCK_BOOST, CONTROLLER, DRIVER)
