"""What the parts around the chips of public boards are for, written down by hand from schematic names and values.

The boards of the first group were looked at while the matcher was built; those of the second were not
looked at until its figures were fixed.
"""

from __future__ import annotations

from collections.abc import Mapping

ELSE = ("other",)
_PIC = {
    "L1": ("U4: input coil",), "D10": ("U4: rectifier",), "R10": ("U4: compensation resistor",),
    "C1": ("U4: input capacitor", "U3: output capacitor"), "C2": ("U3: input capacitor",),
    "C4": ("U4: compensation filter",), "C5": ("U4: compensation capacitor",), "C3": ("U4: output capacitor",),
    "R15": ("U4: feedback divider, lower",), "D2": ELSE, "D4": ELSE, "R20": ELSE, "R14": ELSE, "D1": ELSE,
}  # fmt: skip
_PIC_SUPPLY = ("U1: decoupling capacitor", "U5: decoupling capacitor", "U6: decoupling capacitor")
TUNED: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "pic_programmer": {
        **_PIC, "C6": _PIC_SUPPLY, "C7": _PIC_SUPPLY, "R21": ELSE, "R13": ELSE, "R12": ELSE, "R18": ELSE,
    },
    "flat_hierarchy": _PIC,
}  # fmt: skip
_HUB = ("U1: decoupling capacitor", "U1: pump output capacitor")
_HUB_5 = ("U1: decoupling capacitor", "U2: output capacitor", "other")
_CPU = ("U102: decoupling capacitor", "U101: decoupling capacitor")
_CPLD = ("U301: decoupling capacitor",)
_CARTE = tuple(f"U{n}: decoupling capacitor" for n in range(1, 7))
HELD_OUT: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "StickHub": {
        "R6": ("U1: bias resistor",), "R3": ("U1: reset pull-up",), "C28": ("U2: slew capacitor",),
        "C21": ("U2: input capacitor",), "D24": ("U2: input clamp",), "C38": ("U2: output capacitor", "other"),
        **{f"C{n}": _HUB for n in (3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13)},
        **{f"C{n}": _HUB_5 for n in (1, 14, 15, 16, 22, 30, 36)},
        **dict.fromkeys(("D1", "D5", "D9", "D22", "R7", "R8", "R1", "R2", "C2"), ELSE),
    },
    "kit-dev-coldfire-xilinx_5213": {
        "C212": ("VR201: input capacitor",), "C213": ("VR201: input capacitor",), "C215": ("VR201: output capacitor",),
        "C216": ("VR201: output capacitor",), "D201": ("VR201: input clamp", "other"), "F201": ELSE,
        "C205": ("U202: flying capacitor",), "C206": ("U202: flying capacitor",),
        "C207": ("U202: negative supply capacitor",), "C204": ELSE, "R205": ELSE, "R210": ELSE, "R102": ELSE,
        "R118": ELSE, "R106": ("U102: reset pull-up",), "R209": ELSE, "L101": ("U102: supply feed",),
        **{f"C{n}": _CPU for n in (101, 110, 111, 112, 113, 114, 115, 116, 117, 118)},
        **{f"C{n}": _CPLD for n in range(301, 312)},
    },
    "complex_hierarchy": {
        "C2": ("U2: input capacitor",), "C10": ("U1: flying capacitor",), "C11": ("U1: output capacitor",),
        "C1": ("U2: output capacitor", "U1: decoupling capacitor", "U1: input capacitor"), "D1": ELSE,
    },
    "carte_test": {
        "C6": ("U3: input capacitor",), "D1": ELSE, "C3": ("U3: output capacitor",),
        "C1": ("U1: pump output capacitor",),
        "C2": ELSE, "C14": ELSE, "R4": ELSE, "R5": ELSE, **{f"C{n}": _CARTE for n in (7, 8, 10, 11, 12)},
    },
}  # fmt: skip
