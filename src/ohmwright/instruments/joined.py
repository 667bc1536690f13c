"""The instruments of this bench: the families that are known, what is found on the wires, and joining one."""

from __future__ import annotations

import os
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import pyvisa
from pyvisa.errors import Error as VisaError

from ohmwright.errors import DataError, InstrumentError, OhmwrightError, UnknownNameError
from ohmwright.instruments.described import DescribedMeter, DescribedSupply
from ohmwright.instruments.family import Family, read_family
from ohmwright.instruments.scpi_line import LineSettings, ScpiLine
from ohmwright.instruments.sigrok import SigrokMeter

SHIPPED = Path(str(files("ohmwright.instruments"))) / "families"
GLANCE_MS = 1_500
"""How long an instrument may take to say who it is. [ms]"""


@dataclass(frozen=True, slots=True)
class Found:
    """Something at an address: who it says it is, and of what family that is; or why nothing is known of it."""

    address: str
    identity: str = ""
    family: str = ""
    kind: str = ""
    trouble: str = ""


def own_folder() -> Path:
    """Where users put descriptions of their own (XDG Base Directory Specification: configuration home)."""
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "ohmwright" / "instruments"


def known_families(own: Path | None = None) -> tuple[Family, ...]:
    """All families; those of the user come first and stand for shipped ones of the same name."""
    folder = own or own_folder()
    theirs = [read_family(path) for path in sorted(folder.glob("*.toml"))] if folder.is_dir() else []
    names = {family.name for family in theirs}
    shipped = [read_family(path) for path in sorted(SHIPPED.glob("*.toml"))]
    return (*theirs, *(family for family in shipped if family.name not in names))


def addresses() -> tuple[str, ...]:
    """What the wires offer: USB, serial ports, and instruments that announce themselves on the network."""
    try:
        return tuple(pyvisa.ResourceManager("@py").list_resources("?*"))
    except (VisaError, OSError, ValueError) as error:
        raise InstrumentError("The wires cannot be searched.", why=str(error)) from error


def who_is(address: str, own: Path | None = None) -> Found:
    """What is at an address. It is only asked who it is."""
    families = known_families(own)
    try:
        with ScpiLine(address, settings=LineSettings(GLANCE_MS)) as line:
            answer = line.identity
    except OhmwrightError as error:
        return Found(address, trouble=f"{error.what} {error.why}".strip())
    family = next((f for f in families if f.is_named(answer)), None)
    return Found(address, answer, *(("", "", "no description fits") if family is None else (family.name, family.kind)))


def found_instruments(own: Path | None = None) -> tuple[Found, ...]:
    """All that is found. Serial ports are named and not asked: what hangs on one may not be a meter at all."""
    return tuple(
        Found(address, trouble="a serial port: name it to have it asked") if address.upper().startswith("ASRL")
        else who_is(address, own)
        for address in addresses()
    )  # fmt: skip


def joined_meter(address: str, family: str = "", own: Path | None = None) -> DescribedMeter | SigrokMeter:
    """A meter, once it is sure that it is what it is taken for.

    Parameters
    ----------
    address : str
        A VISA resource, or ``sigrok:DRIVER`` for a hand-held meter through sigrok-cli.
    family : str
        Its description by name; by default the one that fits its own answer.
    """
    if address.startswith("sigrok:"):
        return SigrokMeter(address.removeprefix("sigrok:"))
    line, found = _joined(address, family, "meter", own)
    return DescribedMeter(line, found)


def joined_supply(address: str, family: str = "", own: Path | None = None) -> DescribedSupply:
    """A supply, once it is sure that it is what it is taken for."""
    line, found = _joined(address, family, "supply", own)
    return DescribedSupply(line, found)


def _joined(address: str, name: str, kind: str, own: Path | None) -> tuple[ScpiLine, Family]:
    families = {family.name: family for family in known_families(own)}
    if name and name not in families:
        raise UnknownNameError.among("family of instruments", name, families)
    if not name:
        found = who_is(address, own)
        if not found.family:
            raise InstrumentError(
                f"It is not known what this is: {found.identity[:80] or 'no answer'}.", where=address,
                why=found.trouble, hint=f"describe its family in {own or own_folder()} (docs/bench.md)",
            )  # fmt: skip
        name = found.family
    family = families[name]
    if family.kind != kind:
        raise DataError(f"{name} is a {family.kind}, not a {kind}.", where=address)
    line = ScpiLine(address, settings=family.line)
    if not family.is_named(line.identity):
        line.close()
        raise InstrumentError(
            f"This is no {name}: it says {line.identity[:80]!r}.",
            where=address,
            why="its description wants another name",
        )
    return line, family


def asked_instrument(address: str, kind: str) -> Found:
    """What is at an address, asked who it is, once it is sure to be of that kind: meter or supply.

    Raises
    ------
    InstrumentError
        If nobody answers, or nobody has described what does.
    DataError
        If it is of the other kind.
    """
    found = who_is(address)
    if not found.family:
        raise InstrumentError(
            f"It is not known what this is: {found.identity[:80] or 'no answer'}.", where=address, why=found.trouble,
            hint=f"check the address, or describe its family in {own_folder()} (docs/bench.md)",
        )  # fmt: skip
    if found.kind != kind:
        raise DataError(
            f"{found.family} is a {found.kind}, not a {kind}.", where=address, hint=f"join it as {found.kind}"
        )
    return found
