"""The instruments of this bench: the families that are known, what is found on the wires, and joining one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import pyvisa
from pyvisa.errors import Error as VisaError

from ohmwright.errors import DataError, InstrumentError, OhmwrightError, UnknownNameError
from ohmwright.instruments.described import DescribedMeter, DescribedSupply
from ohmwright.instruments.family import HAND_HELD, Family, known_families, own_folder
from ohmwright.instruments.line_settings import LineSettings
from ohmwright.instruments.scpi_line import ScpiLine
from ohmwright.instruments.sigrok import SigrokMeter, scanned

SIGROK = "sigrok:"
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


def addresses() -> tuple[str, ...]:
    """What the wires offer: USB, serial ports, and instruments that announce themselves on the network."""
    try:
        return tuple(pyvisa.ResourceManager("@py").list_resources("?*"))
    except (VisaError, OSError, ValueError) as error:
        raise InstrumentError("The wires cannot be searched.", why=str(error)) from error


def who_is(address: str, own: Path | None = None) -> Found:
    """What is at an address. It is only asked who it is; on a serial port in each way that a description speaks of."""
    families = known_families(own)
    if address.startswith(SIGROK):
        return _listened_to(address, families)
    best = Found(address, trouble="No instrument answers.")
    for settings in _ways(address, families):
        try:
            with ScpiLine(address, settings=settings) as line:
                answer = line.identity
        except OhmwrightError as error:
            best = best if best.identity else Found(address, trouble=f"{error.what} {error.why}".strip())
            continue
        family = next((f for f in families if f.is_named(answer)), None)
        if family is not None:
            return Found(address, answer, family.name, family.kind)
        best = Found(address, answer, trouble="no description fits")
    return best


def _ways(address: str, families: tuple[Family, ...]) -> tuple[LineSettings, ...]:
    """How to speak to what is at an address before it is known; only a serial port has more than one way.

    There an answer is heard until it pauses, whatever ends it.
    """
    plain = LineSettings(GLANCE_MS)
    if not address.upper().startswith("ASRL"):
        return (plain,)
    lines = (family.line for family in families if family.identity)
    told = (replace(line, patience_ms=GLANCE_MS, read_end="", errors="", pause_ms=0) for line in (plain, *lines))
    return tuple(dict.fromkeys(told))


def _listened_to(address: str, families: tuple[Family, ...]) -> Found:
    """A hand-held meter as the scan of sigrok-cli names it."""
    driver = address.removeprefix(SIGROK)
    try:
        found = scanned(driver)
    except InstrumentError as error:
        return Found(address, trouble=f"{error.what} {error.why}".strip())
    if not found:
        return Found(address, trouble="No meter answers there.")
    family = _of_driver(driver, families)
    return Found(address, found[0][1], "hand-held meter" if family is None else family.name, "meter")


def _of_driver(driver: str, families: tuple[Family, ...]) -> Family | None:
    return next((f for f in families if f.driver and f.driver == driver.partition(":")[0]), None)


def found_instruments(own: Path | None = None) -> tuple[Found, ...]:
    """All that is found. Serial ports are named and not asked: what hangs on one may not be a meter at all."""
    wired = tuple(
        Found(address, trouble="a serial port: name it to have it asked") if address.upper().startswith("ASRL")
        else who_is(address, own)
        for address in addresses()
    )  # fmt: skip
    return (*wired, *_hand_held(known_families(own)))


def _hand_held(families: tuple[Family, ...]) -> tuple[Found, ...]:
    """What sigrok-cli finds where it is installed; what it plays to itself is no meter."""
    try:
        found = scanned()
    except InstrumentError:
        return ()
    named = ((driver, who, _of_driver(driver, families)) for driver, who in found if driver != "demo")
    return tuple(
        Found(f"{SIGROK}{driver}", who, "hand-held meter" if family is None else family.name, "meter")
        for driver, who, family in named
    )


def joined_meter(address: str, family: str = "", own: Path | None = None) -> DescribedMeter | SigrokMeter:
    """A meter, once it is sure that it is what it is taken for.

    Parameters
    ----------
    address : str
        A VISA resource, or ``sigrok:DRIVER`` for a hand-held meter through sigrok-cli.
    family : str
        Its description by name; by default the one that fits its own answer.
    """
    if address.startswith(SIGROK):
        driver = address.removeprefix(SIGROK)
        known = {one.name: one for one in known_families(own) if one.kind == HAND_HELD}
        if family and family not in known:
            raise UnknownNameError.among("hand-held meter", family, known)
        described = known[family] if family else _of_driver(driver, tuple(known.values()))
        return SigrokMeter(driver) if described is None else SigrokMeter(driver, model=described.meter)
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
