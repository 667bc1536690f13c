"""The instruments on the wires: what they say they are, and whether they do what their description says."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.console import Console
from rich.markup import escape

from ohmwright.bootstrap import (
    choose_meter,
    found_instruments,
    joined_meter,
    known_families,
    own_folder,
    own_model,
    who_is,
)
from ohmwright.errors import InstrumentError
from ohmwright.quantities import format_quantity
from ohmwright.usecases.entry_words import value_words
from ohmwright.usecases.plan_round import Meter
from ohmwright.usecases.record_reading import parse_quantity_name

console = Console(highlight=False)


def instruments(
    address: Annotated[str, typer.Argument(help="Ask only this one: a VISA address, or sigrok:DRIVER.")] = "",
    read: Annotated[str, typer.Option(help="Take a reading with it: diode, ohms or volts.")] = "",
    families: Annotated[bool, typer.Option(help="List the families that are known.")] = False,
    mine: Annotated[str, typer.Option(help="Readings that are typed are taken with this described meter.")] = "",
) -> None:
    """List the meters and supplies that are found, test one, and say which meter is in hand."""
    if mine:
        console.print(escape(_in_hand(choose_meter(mine).meter)))
    elif families:
        for family in known_families():
            console.print(escape(f"{family.kind:9} {family.name}"))
        console.print(escape(f"Yours go into {own_folder()}"))
        console.print(escape(_in_hand(own_model())))
    elif read and not address:
        raise InstrumentError("Which meter?", hint="ohmwright instruments ADDRESS --read ohms")
    elif read:
        _test(address, read)
    else:
        _list(address)


def _in_hand(meter: Meter) -> str:
    amps, volts = format_quantity(meter.diode_current, "A"), format_quantity(meter.diode_compliance, "V")
    return f"Typed readings are taken with: {meter.name}, {amps} and {volts} in diode mode"


def _list(address: str) -> None:
    found = (who_is(address),) if address else found_instruments()
    for one in found:
        what = f"{one.family} ({one.kind}), says {one.identity!r}" if one.family else one.identity or "?"
        console.print(escape(f"{one.address}: {what}" + (f" [{one.trouble}]" if one.trouble else "")))
    if not found:
        console.print("Nothing is found on USB or serial ports. A meter on the network is named by its address,")
        console.print("as in: ohmwright instruments TCPIP0::192.0.2.7::5025::SOCKET")


def _test(address: str, read: str) -> None:
    quantity = parse_quantity_name(read)
    meter = joined_meter(address)
    try:
        console.print(escape(f"{meter.model.name}, {read}: {value_words(quantity, meter.read(quantity))}"))
    finally:
        meter.close()
