"""Entries of a case in a technician's words."""

from __future__ import annotations

from collections.abc import Iterator

from ohmwright.casebook import Amended, CaseOpened, Happening, Undone
from ohmwright.casebook import events as happened
from ohmwright.facts import Quantity
from ohmwright.quantities import format_quantity

UNITS = {Quantity.OHMS: "Ω", Quantity.PART_OHMS: "Ω", Quantity.SUPPLY_AMPS: "A"}
"""Units of the quantities that are not in volts."""
SIDES = {"top": "upper side", "bottom": "underside"}
"""What the page calls them."""


def value_words(quantity: Quantity, value: float | None) -> str:
    """A reading with its unit. The value is in the SI unit of the quantity."""
    return "OL" if value is None else format_quantity(value, UNITS.get(quantity, "V"), 4)


def entry_words(what: Happening) -> str:
    """What happened, in one line."""
    match what:
        case CaseOpened():
            return f"case opened on {what.board.name}"
        case Undone():
            return f"e{what.sequence} taken back"
        case Amended():
            place = f", placed before e{what.position}" if what.position else ""
            which = f"e{what.sequence} put right" if what.sequence else "put in later"
            return f"{which}: {entry_words(what.now)}{place}"
        case happened.ReadingRecorded():
            how = "" if what.entered in ("", "meter", "figures", "taken by itself") else f" (entered: {what.entered})"
            return f"{what.quantity.value} {what.red} to {what.black}: {value_words(what.quantity, what.value)}{how}"
        case happened.LookRecorded():
            return f"looked at {', '.join(what.parts)}: {what.finding.value}"
        case happened.HeatRecorded():
            where = ", ".join(what.parts) or "nowhere"
            return f"warm ({what.method}, {format_quantity(what.watts, 'W')}): {where} ({what.finding.value})"
        case happened.GradientRecorded():
            one = what.measured
            amps = format_quantity(abs(one.current), "A")
            steps = format_quantity(one.resolution, "V")
            return f"millivolts along {one.net} at {amps}: {len(one.points)} points, meter steps of {steps}"
        case happened.TraceRecorded():
            good = ", of the board working" if what.good else ""
            seconds = what.times[-1] if what.times else 0
            return f"supply traced for {seconds:.3g} s: {what.words or what.behaviour.value}{good}"
        case happened.FeedSet():
            feed = what.feed
            limit = format_quantity(feed.limit, "A")
            return f"fed {format_quantity(feed.volts, 'V')}, limit {limit}, {feed.plus} plus, {feed.minus} minus"
    return _plain_words(what)


def _map_words(
    what: happened.PictureAdded | happened.PictureRegistered | happened.ScaleSet | happened.PartErased
    | happened.NetTold,
) -> str:
    match what:
        case happened.PictureAdded():
            return f"picture of the {SIDES[what.layer.side]}: {what.layer.name or what.layer.key[:8]}"
        case happened.PictureRegistered():
            return f"{what.layer.name or 'picture'} laid on the board: {what.layer.how}"
        case happened.ScaleSet():
            return f"scale from {what.source}"
        case happened.PartErased():
            return f"{what.part} taken from the map"
        case happened.NetTold():
            return f"copper at {what.pad}: {', '.join(_net_words(what)) or 'a net of its own'}"


def _net_words(what: happened.NetTold) -> Iterator[str]:
    if what.name:
        yield what.name
    if what.ground:
        yield "ground"
    if what.nominal is not None:
        yield f"{format_quantity(what.nominal, 'V')} when all is well"
    if what.entry:
        yield "power comes in here"


def _noted_words(what: happened.PadsApart | happened.BoardLaid | happened.Inspected) -> str:
    match what:
        case happened.PadsApart():
            return f"silent between {what.a} and {what.b}"
        case happened.BoardLaid():
            return f"board laid on the picture from {what.source or 'a file'}: {len(what.parts)} parts"
        case happened.Inspected():
            size = f"{what.width_mm:.0f} by {what.height_mm:.0f} mm"
            return f"looked over {size} of the {SIDES[what.side]} at {what.magnification:g} times"


def _plain_words(what: Happening) -> str:
    match what:
        case happened.SymptomTold():
            return f"symptom: {what.symptom.value}"
        case happened.EntryDescribed():
            volts = "no label" if what.label_volts is None else f"label {format_quantity(what.label_volts, 'V')}"
            polarity = "measured" if what.polarity_measured else "not measured"
            battery = "off" if what.battery_off else "not known to be off"
            return f"entry {what.net}: {volts}, polarity {polarity}, battery {battery}"
        case happened.BoardTried():
            return f"board tried: {'works' if what.works else 'still dead'}"
        case happened.TestSkipped():
            return f"passed over: {what.title}"
        case happened.GateOverruled():
            return f"gate {what.gate} overruled: {what.reason}"
        case happened.Bridged() | happened.PadsJoined():
            how = " (by sight)" if getattr(what, "reason", "") == "sight" else ""
            return f"{'bridged' if isinstance(what, happened.Bridged) else 'same copper'}: {what.a} and {what.b}{how}"
        case happened.PadsApart() | happened.BoardLaid() | happened.Inspected():
            return _noted_words(what)
        case happened.PinNamed():
            return f"{what.pad} is {' '.join(dict.fromkeys((what.name, what.role)))}".strip()
        case happened.PartIdentified():
            told = (what.number, f"({what.source})" if what.source else "", f"looks {what.look}" if what.look else "")
            return f"{what.part}: {' '.join(word for word in told if word)}"
        case happened.PartPlaced() | happened.PartMapped():
            return f"{what.part.name} put on the map"
        case (
            happened.PictureAdded() | happened.PictureRegistered() | happened.ScaleSet() | happened.PartErased()
            | happened.NetTold()
        ):  # fmt: skip
            return _map_words(what)
    part = getattr(what, "part", "")
    return f"{type(what).kind.removeprefix('part-').replace('-', ' ')} {part}".strip()
