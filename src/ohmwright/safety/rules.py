"""The rules for feeding a board. Pure: the same board, facts and wish always give the same answer."""

from __future__ import annotations

from ohmwright.circuit import Board, Feed
from ohmwright.facts import Facts, Quantity
from ohmwright.quantities import format_quantity
from ohmwright.safety.permit import Notice, Permit, Refusal
from ohmwright.safety.reach import reached_from
from ohmwright.safety.solvent import is_wet

HARMLESS = 0.8
"""Volts that may go in before the coils are checked. [V] common practice, no source"""
EXTRA_LOW = 60.0
"""DC volts above which touching is dangerous. [V] IEC 61140 and IEC 62368-1 put ES1 at 60 V DC"""
NO_TOUCH = 30.0
"""Volts above which no hand goes near what is bare, be it for heat. [V] common practice, no source"""
JOINED = 30.0
"""Ohms from an input to a coil below which a switch between them may be through. [Ω] estimate"""
FEW_HIDDEN = 0.1
MOST_AMPS = 5.0

LOCAL = "Local rules and licensed practice come first."


def permit(board: Board, facts: Facts, feed: Feed) -> Permit | Refusal:
    """Whether the supply may be switched on at a setting.

    Parameters
    ----------
    board : Board
    facts : Facts
    feed : Feed

    Returns
    -------
    Permit or Refusal
        A refusal is false in a condition and says which rule and what to do first.

    Raises
    ------
    UnknownNameError
        If a clip is on a point that is not on the board.
    """
    plus, minus = board.net_at(feed.plus), board.net_at(feed.minus)
    passed = {override.gate for override in facts.overrides if override.reason.strip()}
    for rule in (_sane, _over_sixty, _fuse, _battery, _entry, _ratings, _coils):
        refusal = rule(board, facts, feed, plus, minus)
        if refusal is not None and not (refusal.overridable and refusal.gate in passed):
            return refusal
    return Permit(feed, _notices(board, facts, feed))


def _sane(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del facts
    if plus == minus:
        return Refusal("clips", "Both clips are on one net.", "put minus on ground and plus on the rail")
    if minus != board.ground:
        return Refusal("clips", f"The minus clip is on {minus}, not on ground.", "clip minus to ground copper")
    if not (feed.volts > 0.0 and feed.limit > 0.0):
        return Refusal("setting", "Volts and limit must be above zero.", "set both on the supply first")
    if feed.limit > MOST_AMPS:
        return Refusal(
            "limit",
            f"{feed.limit:g} A burns copper, and never finds a fault that less would not.",
            f"stay at or below {MOST_AMPS:g} A",
        )
    return None


def _over_sixty(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del board, facts, plus, minus
    if feed.volts <= EXTRA_LOW:
        return None
    return Refusal(
        "over 60 V", f"{feed.volts:g} V DC is dangerous to touch.", f"hand this to licensed practice. {LOCAL}"
    )


def _fuse(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del feed, plus, minus
    for a, b in facts.state.bridges:
        joined = {board.net_at(a), board.net_at(b)}
        for part in board.parts:
            if part.kind == "fuse" and len(part.nets) == 2 and set(part.nets) == joined:
                return Refusal(
                    "fuse", f"A wire bypasses the fuse {part.name}.", "take the wire off; fit a fuse of the same rating"
                )
    return None


def _battery(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del board, feed, plus, minus
    if any(entry.battery_off for entry in facts.entries):
        return None
    return Refusal(
        "battery", "Nobody has said that the battery is off.", "unplug it, or note that there is none, and say so"
    )


def _entry(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del minus
    if plus not in board.entries or feed.volts <= HARMLESS:
        return None
    known = [entry for entry in facts.entries if board.net_at(entry.net) == plus]
    if not any(entry.polarity_measured for entry in known):
        return Refusal(
            "polarity", f"The polarity at {plus} is not measured.", "measure which contact is positive, and say so"
        )
    if not any(entry.label_volts for entry in known):
        return Refusal(
            "label", f"The volts printed at {plus} are not known.", "read the label at the jack or on its supply"
        )
    return None


def _ratings(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del minus
    labels = {board.net_at(e.net): e.label_volts for e in facts.entries if e.label_volts}
    worst: tuple[float, str] | None = None
    for net in reached_from(board, facts.state, plus, labels):
        if net.stands is None:
            continue
        room = net.stands - (feed.volts - net.drop)
        if room < -1e-9 and (worst is None or room < worst[0]):
            worst = (room, f"{net.why}, and {format_quantity(feed.volts, 'V')} at {plus} reaches it")
    if worst is None:
        return None
    lower = min(n.stands + n.drop for n in reached_from(board, facts.state, plus, labels) if n.stands is not None)
    return Refusal("rating", f"{worst[1]}.", f"feed {plus} with at most {format_quantity(lower, 'V')}")


def _coils(board: Board, facts: Facts, feed: Feed, plus: str, minus: str) -> Refusal | None:
    del minus
    if feed.volts <= HARMLESS:
        return None
    for coil in coils_to_check(board, plus):
        ohms = checked(board, facts, plus, coil)
        if ohms is None:
            return Refusal(
                "coils",
                f"Nobody has probed from {plus} to the coil {coil}.",
                f"supply off: ohms from {plus} to each large coil before more than {HARMLESS:g} V goes in",
            )
        if ohms < JOINED:
            return Refusal(
                "input joined to a coil",
                f"{plus} to {coil} reads {format_quantity(ohms, 'Ω')}: the switch between them may be through, "
                "and everything behind that coil would get the input's volts.",
                "stay at 0.8 V or below until that is repaired",
            )
    if board.unmapped_share >= FEW_HIDDEN:
        return Refusal(
            "coils not all found",
            f"About {100 * board.unmapped_share:.0f} % of the parts are not on the map; a coil may be missing from it.",
            f"stay at or below {HARMLESS:g} V, or look over both sides and say that every large coil is on the map",
            overridable=True,
        )
    return None


def coils_to_check(board: Board, plus: str) -> tuple[str, ...]:
    """Coils that a feed could reach only through a failed switch: all that do not touch the fed net."""
    return tuple(
        part.name for part in board.parts if part.kind == "coil" and plus not in part.nets and len(part.nets) == 2
    )


def checked(board: Board, facts: Facts, plus: str, coil: str) -> float | None:
    """The lowest ohms read from the fed net to a coil in the present state, or None. A reading of OL is 1 GΩ. [Ω]"""
    ends = set(board.part(coil).nets)
    found = []
    for reading in facts.readings:
        if reading.quantity is not Quantity.OHMS or reading.state.replaced != facts.state.replaced:
            continue
        pair = {board.net_at(reading.red), board.net_at(reading.black)}
        if plus in pair and pair & ends:
            found.append(1e9 if reading.value is None else max(reading.value, 0.0))
    return min(found, default=None)


def _notices(board: Board, facts: Facts, feed: Feed) -> tuple[Notice, ...]:
    wet = "Cleaned since it was last fed: no power before it is aired and dry. Alcohol burns, and water leaks."
    notices = [
        *([Notice("solvent", f"{wet} {LOCAL}")] if is_wet(facts) else []),
        Notice("eyes", f"Glasses on while the supply is on: a shorted part may burst. {LOCAL}"),
        Notice("burn", "Parts may be too hot to touch; approach with the back of a finger, or a camera."),
    ]
    if any(pin.role == "BAT" for part in board.parts for pin in part.pins):
        notices.append(
            Notice("cell", f"Keep lithium cells off the board. A swollen or damaged cell: stop, move away. {LOCAL}")
        )
    if feed.volts > NO_TOUCH:
        notices.append(Notice("volts", f"Above {NO_TOUCH:g} V keep one hand away and touch nothing bare. {LOCAL}"))
    return tuple(notices)
