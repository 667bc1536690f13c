"""Circuits of the families that no board at hand has, drawn up from memory of what makers' pin descriptions ask for.

They were written after the typical circuits and by the same hand, so they show that the matching works and not
how well the knowledge fits boards that others drew.
"""

from __future__ import annotations

from dataclasses import dataclass

from ohmwright.circuit import Board, Net, Part, Pin


@dataclass(frozen=True)
class Reference:
    name: str
    family: str
    board: Board
    roles: dict[str, tuple[str, str]]
    """Part to (role, kind)."""


def reference(name: str, family: str, pins: str, neighbours: str) -> Reference:
    """Pins as ``NAME=net``, neighbours as ``net net role/kind``; ground is the net G."""
    chip = [pin.split("=") for pin in pins.split()]
    parts = [Part("U1", "ic", tuple(Pin(str(k), net, name=label) for k, (label, net) in enumerate(chip, 1)))]
    roles = {}
    lines = [line.split(";") for line in neighbours.strip().splitlines()]
    for k, (ends, told) in enumerate(lines, 1):
        nets = ends.split()
        kind = "unknown-two-pads" if len(nets) == 2 else "ic"
        parts.append(Part(f"X{k}", kind, tuple(Pin(str(n), net) for n, net in enumerate(nets, 1))))
        role, _, what = told.strip().rpartition("/")
        roles[f"X{k}"] = (role, what)
    nets = {pin.net for part in parts for pin in part.pins if pin.net} | {"G"}
    return Reference(name, family, Board(name, "G", tuple(Net(net) for net in sorted(nets)), tuple(parts)), roles)


CIRCUITS = (
    reference(
        "switching charger with power path", "charger",
        "VBUS=a PMID=b SW=c BTST=d REGN=e SYS=f BAT=g PGND=G ILIM=h TS=i STAT=j INT=k SDA=l SCL=m CE=n D+=o D-=p",
        """a G; input capacitor/capacitor
b G; middle-rail capacitor/capacitor
c f; switch coil/coil
d c; boot capacitor/capacitor
e G; inner supply capacitor/capacitor
f G; system capacitor/capacitor
f G; system capacitor/capacitor
g G; battery capacitor/capacitor
h G; limit resistor/resistor
e i; temperature divider/resistor
i G; temperature divider/resistor""",
    ),
    reference(
        "linear charger", "charger", "STAT=a VSS=G VBAT=b VDD=c PROG=d",
        """c G; input capacitor/capacitor
b G; battery capacitor/capacitor
d G; current-setting resistor/resistor
a q; status resistor/resistor
q c; status LED/led""",
    ),
    reference(
        "charger with switches outside", "charger",
        "ACP=a ACN=b ACDRV=c VCC=d REGN=e BTST=f HIDRV=g PHASE=h LODRV=i PGND=G SRP=j SRN=k BATDRV=l ILIM=m SDA=n",
        """a b; input-current sense/sense
e G; inner supply capacitor/capacitor
f h; boot capacitor/capacitor
h j; switch coil/coil
j k; charge-current sense/sense
m G; limit resistor/resistor""",
    ),
    reference(
        "buck-boost", "buck-boost", "VIN=a VINA=a L1=b L2=c VOUT=d FB=e EN=a PS/SYNC=G PG=f GND=G PGND=G",
        """a G; input capacitor/capacitor
b c; bridge coil/coil
d G; output capacitor/capacitor
d G; output capacitor/capacitor
d e; feedback divider, upper/resistor
e G; feedback divider, lower/resistor
d f; power-good pull-up/resistor""",
    ),
    reference(
        "load switch", "load-switch", "VIN=a VOUT=b ON=c CT=d QOD=e GND=G",
        """a G; input capacitor/capacitor
b G; output capacitor/capacitor
d G; slew capacitor/capacitor
e b; discharge resistor/resistor
c G; enable pull-down/resistor""",
    ),
    reference(
        "supervisor", "supervisor", "RESET=a GND=G MR=b CT=c SENSE=d VDD=e",
        """e G; supply capacitor/capacitor
e a; reset pull-up/resistor
c G; delay capacitor/capacitor
e d; sense divider, upper/resistor
d G; sense divider, lower/resistor""",
    ),
    reference(
        "port controller", "port-controller", "CC1=a CC2=b VBUS=c VDD=d VCONN=e GND=G SDA=f SCL=g INT_N=h",
        """a G; CC capacitor/capacitor
b G; CC capacitor/capacitor
c G; VBUS capacitor/capacitor
d G; supply capacitor/capacitor
e G; VCONN capacitor/capacitor
f d; bus pull-up/resistor
g d; bus pull-up/resistor
h d; interrupt pull-up/resistor""",
    ),
    reference(
        "gate driver", "gate-driver", "VDD=a HB=b HO=c HS=d HI=e LI=f VSS=G LO=g",
        """a G; driver supply capacitor/capacitor
b d; boot capacitor/capacitor
a b; boot diode/diode
c h; gate resistor/resistor
g i; gate resistor/resistor
h d; upper gate bleed/resistor
i G; lower gate bleed/resistor""",
    ),
    reference(
        "linear regulator with bypass", "linear", "IN=a GND=G EN=a BYP=b OUT=c",
        """a G; input capacitor/capacitor
c G; output capacitor/capacitor
b G; bypass capacitor/capacitor""",
    ),
    reference(
        "boost", "boost", "SW=a GND=G FB=b SHDN=c IN=d",
        """d a; input coil/coil
a e; rectifier/diode
d G; input capacitor/capacitor
e G; output capacitor/capacitor
e b; feedback divider, upper/resistor
b G; feedback divider, lower/resistor""",
    ),
    reference(
        "buck controller", "buck-controller",
        "VIN=a VCC=b BOOT=c UGATE=d PHASE=e LGATE=f GND=G FB=g COMP=h EN=i PGOOD=j",
        """d a e; upper switch/fet-n
f e G; lower switch/fet-n
e k; output coil/coil
c e; boot capacitor/capacitor
b G; inner supply capacitor/capacitor
k G; output capacitor/capacitor
k g; feedback divider, upper/resistor
g G; feedback divider, lower/resistor
h l; compensation resistor/resistor
l G; compensation capacitor/capacitor""",
    ),
)  # fmt: skip
