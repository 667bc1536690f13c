"""What an edit of a drawn map makes of board, facts and chart.

Nets are worked out here and grow together as pads are found to be the same copper. A net that nobody
named yet is called for the pad it was found at; when two nets become one, whatever was entered at the
name that goes is kept under the one that stays.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace

from ohmwright.boardmap import Chart
from ohmwright.boardmap.copper import Verdict
from ohmwright.casebook import events as happened
from ohmwright.casebook.hearing import conducts
from ohmwright.casebook.laid_board import with_laid_board
from ohmwright.circuit import Board, BoardState, Net, Part, Pin
from ohmwright.devices import KINDS
from ohmwright.errors import DataError, UnknownNameError
from ohmwright.facts import Facts

MapEdit = (
    happened.PictureAdded | happened.PictureRegistered | happened.ScaleSet | happened.PartMapped | happened.PartErased
    | happened.NetTold
    | happened.PadsJoined | happened.BoardLaid
)  # fmt: skip
DRAWN_ON_PICTURE = (
    happened.PictureAdded, happened.PictureRegistered, happened.ScaleSet, happened.PartMapped, happened.PartErased,
    happened.NetTold, happened.BoardLaid,
)  # fmt: skip
"""Edits whose whole effect is on the board and the chart."""
Drawn = tuple[Board, Facts, Chart]
_UNNAMED = re.compile(r"the \S+ net(?: \(e\d+\))?\Z")
"""Nets called for the pad they were found at."""
_PLAIN_NAME = re.compile(r"[A-Za-z0-9_+\-/ ]{1,40}\Z")
MOST_MM = 10_000.0
"""Farthest anything on a map may be from its corner. [mm]"""


def is_unnamed(net: str) -> bool:
    """Whether a net's name only says where it was found."""
    return bool(_UNNAMED.match(net))


def on_map(chart: Chart, pad: str) -> bool:
    """Whether a pad was laid on a picture."""
    name, _, number = pad.rpartition(".")
    return any(found.part == name and found.pin == number for found in chart.pads)


def drawn(
    board: Board, facts: Facts, chart: Chart, edit: MapEdit, sequence: int, verdict: Verdict = Verdict.COPPER
) -> Drawn:
    """Board, facts and chart after one edit, the one of that sequence number. [1]

    Parameters
    ----------
    verdict : Verdict
        What a beep amounts to beside all others of the case; it joins only where it says one copper.
    """
    match edit:
        case happened.PictureAdded():
            return board, facts, chart.with_layer(edit.layer)
        case happened.PictureRegistered():
            return board, facts, chart.with_registered(edit.was, edit.layer)
        case happened.ScaleSet():
            return _scaled(board, chart, edit, facts)
        case happened.PartMapped():
            return _with_mapped(board, edit), facts, chart.with_pads(edit.part.name, edit.pads)
        case happened.PartErased():
            return _erased(board, facts, edit.part), facts, chart.without(edit.part)
        case happened.NetTold():
            heeded = edit if verdict is Verdict.COPPER else replace(edit, ground=False)
            return (*_told(board, facts, heeded, sequence), chart)
        case happened.PadsJoined():
            board = with_footing(board, chart, (edit.a, edit.b), sequence) if verdict is not Verdict.COPPER else board
            return (*(_joined(board, facts, edit, sequence) if verdict is Verdict.COPPER else (board, facts)), chart)
        case happened.BoardLaid():
            return with_laid_board(board, facts, chart, edit)


def with_footing(board: Board, chart: Chart, points: tuple[str, ...], sequence: int) -> Board:
    """The board on which every one of those pads is on a net: where none is known yet, on one of its own. [1]"""
    for point in points:
        if on_map(chart, point) and _pin(board, point)[1].net is None:
            board = _on_net(board, point, _fresh(board, point, sequence))
    return board


def _scaled(board: Board, chart: Chart, edit: happened.ScaleSet, facts: Facts) -> Drawn:
    if not (math.isfinite(edit.factor) and 1e-4 <= edit.factor <= 1e4):
        raise DataError(f"A scale of {edit.factor:g} cannot be.", hint="mark a longer distance, and give it in mm")
    grown, on_chart = edit.factor, {pad.part for pad in chart.pads}
    parts = tuple(
        replace(
            part,
            place=replace(
                part.place,
                x_mm=part.place.x_mm * grown,
                y_mm=part.place.y_mm * grown,
                width_mm=part.place.width_mm * grown,
                height_mm=part.place.height_mm * grown,
            ),
        )
        if part.place is not None and part.name in on_chart
        else part
        for part in board.parts
    )
    return replace(board, parts=parts), facts, chart.scaled(grown, edit.source or "told")


def _with_mapped(board: Board, edit: happened.PartMapped) -> Board:
    """The board with the part; what is known of a pin that was there before stays."""
    part = edit.part
    _check_part(board, edit)
    old = board.part_by_name.get(part.name)
    if old is None:
        return board.with_part(part)
    known = {pin.number: pin for pin in old.pins}
    same_kind = old.kind == part.kind
    pins = tuple(
        replace(
            pin,
            net=known[pin.number].net,
            role=known[pin.number].role if same_kind else pin.role,
            name=known[pin.number].name or pin.name,
        )
        if pin.number in known
        else pin
        for pin in part.pins
    )
    kept = replace(
        part,
        pins=pins,
        marking=part.marking or old.marking,
        source=part.source or old.source,
        look=part.look or old.look,
    )
    return board.with_part(kept)


def _check_part(board: Board, edit: happened.PartMapped) -> None:
    part = edit.part
    if part.kind not in KINDS:
        raise UnknownNameError.among("kind of part", part.kind, KINDS)
    if not re.fullmatch(r"[A-Za-z0-9_+\-]{1,24}", part.name) or part.name in board.net_by_name:
        raise DataError(
            f"{part.name[:40]!r} cannot name a part here.", hint="use letters and figures, and no net's name"
        )
    numbers = [pin.number for pin in part.pins]
    if len(set(numbers)) != len(numbers) or {pad.pin for pad in edit.pads} != set(numbers):
        raise DataError(f"The pads of {part.name} are not its pins.", hint="lay the part anew")
    if any(pin.net is not None for pin in part.pins) or any(pad.part != part.name for pad in edit.pads):
        raise DataError(f"{part.name} brings nets or pads that are not its own.", hint="join its pads afterwards")
    sizes = [v for pad in edit.pads for v in (pad.x_mm, pad.y_mm, pad.width_mm, pad.height_mm)]
    if not all(math.isfinite(v) and abs(v) <= MOST_MM for v in sizes):
        raise DataError(f"{part.name} lies nowhere near the board.", hint="lay the part anew")


def _erased(board: Board, facts: Facts, name: str) -> Board:
    part = board.part(name)
    mentioned = {point.rpartition(".")[0] for r in facts.readings for point in (r.red, r.black)}
    mentioned |= {act.part for act in facts.acts} | {p for look in facts.looks for p in look.parts}
    mentioned |= {p for heat in facts.heats for p in heat.parts}
    feeds = [r.state.feed for r in facts.readings] + [facts.state.feed]
    mentioned |= {point.rpartition(".")[0] for feed in feeds if feed for point in (feed.plus, feed.minus)}
    if name in mentioned:
        raise DataError(
            f"Something was measured or done at {name}.",
            why="what was found there would hang in the air",
            hint="take that back first, or move the part instead",
        )
    return replace(board, parts=tuple(p for p in board.parts if p.name != part.name))


def _told(board: Board, facts: Facts, edit: happened.NetTold, sequence: int) -> tuple[Board, Facts]:
    if edit.name and (not _PLAIN_NAME.match(edit.name) or edit.name in board.part_by_name):
        raise DataError(
            f"{edit.name[:40]!r} cannot name a net here.", hint="use letters, figures, + - _ / and no part's name"
        )
    if edit.nominal is not None and not (math.isfinite(edit.nominal) and 0.0 <= edit.nominal <= 1000.0):
        raise DataError(f"{edit.nominal:g} V cannot be.", hint="give the volts it has when all is well")
    if _pin(board, edit.pad)[1].net is None:
        board = _on_net(board, edit.pad, _fresh(board, edit.pad, sequence))
    wanted = board.ground if edit.ground else edit.name
    if wanted:
        board, facts = _one_net(board, facts, board.net_at(edit.pad), wanted)
    name = board.net_at(edit.pad)
    _refuse_through(board, name, f"Calling {edit.pad} {name}")
    net = board.net(name)
    if edit.nominal is not None:
        net = replace(net, nominal=edit.nominal, rail=edit.nominal > 0.0)
    if edit.entry and name not in board.entries:
        board = replace(board, entries=(*board.entries, name))
        net = replace(net, rail=True)
    nets = tuple(net if old.name == name else old for old in board.nets)
    return _with_roles(replace(board, nets=nets), name), facts


def _joined(board: Board, facts: Facts, edit: happened.PadsJoined, sequence: int) -> tuple[Board, Facts]:
    """Pads on one net from here on, or a pad on ground.

    Two nets that somebody named stay two, and the disagreement is shown.
    """
    if board.ground in (edit.a, edit.b):
        pad = edit.b if edit.a == board.ground else edit.a
        net = _pin(board, pad)[1].net
        if net is not None and not is_unnamed(net):
            return board, facts
        return _told(board, facts, happened.NetTold(pad, ground=True), sequence)
    first, second = _pin(board, edit.a)[1].net, _pin(board, edit.b)[1].net
    if first is not None and second is not None:
        keep, go = (first, second) if is_unnamed(second) else (second, first)
        if first != second and not is_unnamed(go):
            return board, facts
        board, facts = _one_net(board, facts, go, keep)
    else:
        keep = first or second or _fresh(board, edit.a, sequence)
        for pad in (edit.a, edit.b):
            board = _on_net(board, pad, keep)
    _refuse_through(board, keep, f"Joining {edit.a} and {edit.b}")
    return _with_roles(board, keep), facts


def _refuse_through(board: Board, net: str, what: str) -> None:
    """A coil, a fuse and their like conduct: nothing makes their two ends one net."""
    for part in board.parts:
        if conducts(part) and all(pin.net == net for pin in part.pins):
            raise DataError(
                f"{what} would put both ends of {part.name} on one net.",
                why=f"a {KINDS[part.kind].words} conducts at DC, so a beep may come through it",
                hint=f"leave the two sides of {part.name} apart; the program knows that they buzz together",
            )


def _one_net(board: Board, facts: Facts, old: str, new: str) -> tuple[Board, Facts]:
    """Net `old` is net `new`: under one name from here on."""
    if old == new:
        return board, facts
    named = not is_unnamed(old)
    if named and new in board.net_by_name:
        raise DataError(
            f"This pad, on {old}, and {new} are already on two different nets, {' and '.join(sorted((old, new)))}.",
            why="one of the entries must be wrong, or a part of almost no resistance lies between them",
            hint="buzz both again, then undo the entry that was wrong",
        )
    kept = board.net_by_name.get(new) or replace(board.net(old), name=new)
    gone = board.net(old)
    kept = replace(
        kept,
        nominal=kept.nominal if kept.nominal is not None else gone.nominal,
        rail=kept.rail or (gone.rail and new != board.ground),
    )
    nets = tuple(net for net in board.nets if net.name not in (old, new))
    parts = tuple(
        replace(part, pins=tuple(replace(pin, net=new) if pin.net == old else pin for pin in part.pins))
        if any(pin.net == old for pin in part.pins)
        else part
        for part in board.parts
    )
    entries = tuple(dict.fromkeys(new if entry == old else entry for entry in board.entries))
    return replace(board, nets=(*nets, kept), parts=parts, entries=entries), _facts_renamed(facts, old, new)


def _with_roles(board: Board, net: str) -> Board:
    """A chip's pin of no known role does on ground, or on a rail, what such pins do."""
    rail = board.net(net).rail
    role = "GND" if net == board.ground else "VDD" if rail else ""
    # Looked for part by part: a map that is drawn is another board with every edit, and its index would be used once.
    for part in board.parts if role else ():
        for pin in part.pins:
            if pin.net == net and not pin.role and role in KINDS[part.kind].roles:
                board = board.with_part(_with_pin(board.part(part.name), replace(pin, role=role)))
    return board


def _fresh(board: Board, pad: str, sequence: int) -> str:
    """A name for copper first known at a pad; a part of that name may have stood elsewhere before. [1]"""
    name = f"the {pad} net"
    return name if name not in board.net_by_name else f"{name} (e{sequence})"


def _on_net(board: Board, pad: str, net: str) -> Board:
    part, pin = _pin(board, pad)
    if net not in board.net_by_name:
        board = replace(board, nets=(*board.nets, Net(net)))
    return board.with_part(_with_pin(part, replace(pin, net=net)))


def _pin(board: Board, pad: str) -> tuple[Part, Pin]:
    name, _, number = pad.rpartition(".")
    part = board.part(name or pad)
    return part, part.pin(number)


def _with_pin(part: Part, pin: Pin) -> Part:
    return replace(part, pins=tuple(pin if old.number == pin.number else old for old in part.pins))


def _facts_renamed(facts: Facts, old: str, new: str) -> Facts:
    """The facts with a net's name put for another wherever a point was given by it."""

    def point(name: str) -> str:
        return new if name == old else name

    def state(before: BoardState) -> BoardState:
        feed = before.feed
        return replace(
            before,
            bridges=frozenset((point(a), point(b)) for a, b in before.bridges),
            cleaned=frozenset(point(name) for name in before.cleaned),
            feed=None if feed is None else replace(feed, plus=point(feed.plus), minus=point(feed.minus)),
        )

    return replace(
        facts,
        readings=tuple(
            replace(r, red=point(r.red), black=point(r.black), state=state(r.state)) for r in facts.readings
        ),
        looks=tuple(replace(look, state=state(look.state)) for look in facts.looks),
        heats=tuple(replace(heat, state=state(heat.state)) for heat in facts.heats),
        gradients=tuple(replace(one, net=point(one.net), state=state(one.state)) for one in facts.gradients),
        traces=tuple(replace(one, state=state(one.state)) for one in facts.traces),
        acts=tuple(replace(act, part=point(act.part)) for act in facts.acts),
        entries=tuple(replace(entry, net=point(entry.net)) for entry in facts.entries),
        state=state(facts.state),
    )


def points_of(entry: object) -> Iterator[str]:
    """The points an entry is taken at, which have to be on some net."""
    if isinstance(entry, happened.ReadingRecorded):
        yield from (entry.red, entry.black)
    elif isinstance(entry, happened.FeedSet):
        yield from (entry.feed.plus, entry.feed.minus)
