"""Nets from what buzzes: enter it, ask what is known of one pad, what disagrees, and what to buzz next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ohmwright.boardmap.agreement import Agreement, agreement
from ohmwright.boardmap.copper import Disagreement
from ohmwright.boardmap.naming import described, likely_ground, net_names
from ohmwright.boardmap.orientation import called_ground, orientation_doubts
from ohmwright.casebook import Casebook, Entry
from ohmwright.casebook.disagreeing import disagreements
from ohmwright.casebook.events import BoardLaid, Inspected, LookRecorded, PadsApart, PadsJoined, ScaleSet
from ohmwright.casebook.hearing import barriers_in
from ohmwright.circuit import Board
from ohmwright.diagnosis.answer import Diagnosis
from ohmwright.errors import DataError, OhmwrightError
from ohmwright.facts import LookFinding
from ohmwright.planning.mapping import Join, joins_to_try
from ohmwright.usecases.check_turns import resistances_to_ground, silent_to_ground
from ohmwright.usecases.desk import CaseView, Desk, book_of, record, thought_through
from ohmwright.usecases.entry_words import entry_words

BEEP_OHMS = 30.0
"""Resistance below which a continuity tester beeps. [Ω] common practice, no source: most stop between 30 and 70"""
SHOWN = 6
CLOSE_UP = 10.0
"""Magnification from which nothing seen at a part says something of it. [1] a choice: cracks are seen at ten times"""


def heard_entry(board: Board, a: str, b: str, beeps: bool) -> Entry:
    """What goes on record when two points were held against each other."""
    if a == board.ground:
        a, b = b, a
    named = b == board.ground and _role(board, a) == "GND"
    return PadsJoined(a, b, "name" if named else "continuity") if beeps else PadsApart(a, b, "continuity")


def _role(board: Board, pad: str) -> str:
    name, _, number = pad.rpartition(".")
    return board.part(name).pin(number).role if name in board.part_by_name else ""


def heard(desk: Desk, case: str, a: str, b: str, beeps: bool, *, expected: int | None = None) -> CaseView:
    """Two points were held against each other, and beep or not."""
    entry = heard_entry(book_of(desk, case).board, a, b, beeps)
    return thought_through(desk, case, record(desk, case, entry, expected=expected))


@dataclass(frozen=True, slots=True)
class Mate:
    """A pad on the same copper, or at DC the same, and what says so.

    Parameters
    ----------
    entries : tuple of str
        Keys of the entries that hold the two together; empty where only a common name does.
    through : tuple of str
        Parts that conduct between them; empty on one copper.
    """

    pad: str
    entries: tuple[str, ...] = ()
    through: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PadStory:
    """All that is known of one pad.

    Parameters
    ----------
    words : str
        What its net is called.
    readings : tuple of (str, str)
        Key and words of each reading taken on its net.
    unknown : tuple of str
        What is still not known around it, one sentence each.
    next : tuple of Join
        What to buzz to learn more.
    """

    pad: str
    net: str | None
    words: str
    copper: tuple[Mate, ...]
    dc: tuple[Mate, ...]
    silent: tuple[str, ...]
    readings: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]
    next: tuple[Join, ...]


def joins_for(view: CaseView, diagnosis: Diagnosis | None = None) -> tuple[Join, ...]:
    """What to buzz on this map, best first."""
    return joins_to_try(view.board, view.book.copper, diagnosis)


def pad_story(view: CaseView, pad: str, joins: Sequence[Join]) -> PadStory:
    """What is known of the copper at a pad, why, and what is not.

    Parameters
    ----------
    joins : sequence of Join
        From `joins_for`; those that concern the pad are told with it.

    Raises
    ------
    UnknownNameError
        If there is no such pad.
    """
    board, book = view.board, view.book
    name, _, number = pad.rpartition(".")
    net = board.part(name).pin(number).net
    names = net_names(board)
    mates = [f"{p.name}.{q.number}" for p, q in board.pins_on[net]] if net is not None else []
    copper = tuple(Mate(mate, _keys(book, pad, mate)) for mate in mates if mate != pad)
    dc = tuple(Mate(other, (), through) for other, through in _same_at_dc(board, book, pad, net))
    near = [join for join in joins if _about(join, {pad, *mates}, net)]
    return PadStory(
        pad, net, described(names, net), copper, dc, tuple(_silent(book, pad)), tuple(_readings(view, net)),
        tuple(_unknown(board, book, pad, net, mates)), tuple(near[:3]),
    )  # fmt: skip


def _about(join: Join, pads: set[str], net: str | None) -> bool:
    return join.pad in pads or join.other in pads or join.net == net


def _keys(book: Casebook, a: str, b: str) -> tuple[str, ...]:
    ground = book.board.ground
    path = book.copper.holding(a, b)
    if path is None and book.copper.same_copper(a, ground) and book.copper.same_copper(b, ground):
        path = (*(book.copper.holding(a, ground) or ()), *(book.copper.holding(b, ground) or ()))
    return tuple(f"e{key}" for key in path or ())


def _same_at_dc(board: Board, book: Casebook, pad: str, net: str | None) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Pads behind parts that conduct: on other nets of the map, whatever names them."""
    seen = {net}
    queue: list[tuple[str | None, tuple[str, ...]]] = [(net, ())]
    while queue:
        here, through = queue.pop(0)
        for part, p, q in book.copper.conductors:
            ends = [(end, _net(board, end)) for end in (p, q)]
            for (near, a), (far, b) in (ends, ends[::-1]):
                if (a == here and here is not None) or near == pad:
                    if b in seen and b is not None:
                        continue
                    seen.add(b)
                    way = (*through, part)
                    others = [f"{o.name}.{n.number}" for o, n in board.pins_on[b]] if b is not None else [far]
                    yield from ((other, way) for other in others)
                    if b is not None:
                        queue.append((b, way))


def _net(board: Board, pad: str) -> str | None:
    name, _, number = pad.rpartition(".")
    part = board.part_by_name.get(name)
    return None if part is None else next((pin.net for pin in part.pins if pin.number == number), None)


def _silent(book: Casebook, pad: str) -> Iterator[str]:
    """Pads that were held against this copper, and stayed silent."""
    here = set(book.copper.pads_with(pad))
    for one in book.copper.heard:
        if not one.beeps and (one.a in here) != (one.b in here):
            yield one.b if one.a in here else one.a


def _readings(view: CaseView, net: str | None) -> Iterator[tuple[str, str]]:
    by_key = {entry.event.key: entry.what for entry in view.book.counted}
    for reading in view.facts.readings if net is not None else ():
        try:
            nets = {view.board.net_at(reading.red), view.board.net_at(reading.black)}
        except OhmwrightError:  # its points are gone from the map
            continue
        if net in nets and reading.key in by_key:
            yield reading.key, entry_words(by_key[reading.key])


def _unknown(board: Board, book: Casebook, pad: str, net: str | None, mates: list[str]) -> Iterator[str]:
    if net is None:
        yield f"{pad} is joined to nothing yet: buzz it against its neighbours"
        return
    if net != board.ground and board.net(net).nominal is None:
        yield "how many volts it has when all is well"
    if net != board.ground:
        for part, pin in board.pins_on[net]:
            others = [q for q in part.pins if q.number != pin.number]
            if len(part.pins) == 2 and others[0].net is None:
                yield f"where the other end of {part.name} goes"
    through = [part for part, p, q in book.copper.conductors if _net(board, p) == net or _net(board, q) == net]
    sided = [mate for mate in mates if mate != pad and not mate.startswith(tuple(f"{t}." for t in through))]
    if through and sided and net != board.ground:
        yield (
            f"on which side of {' and '.join(through)} the pads that beep here lie: a beep comes through; "
            "compare ohms with nulled leads where it matters"
        )


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something on the map that cannot be, in words, with what may be taken back."""

    words: str
    entries: tuple[int, ...]
    cures: tuple[int, ...]
    pads: tuple[str, str]
    fault: bool


@dataclass(frozen=True, slots=True)
class NetsView:
    """The nets of a map at one moment.

    Parameters
    ----------
    names : tuple of (str, str)
        Each net and what it is called.
    ground : (str, str)
        A net that is probably ground though nobody said so, and why.
    called_ground : tuple of str
        Pads of pins that are ground by their names, and of which nobody has said or heard it yet.
    agreement : Agreement or None
        How a file that was laid on the picture agrees with what was heard.
    """

    names: tuple[tuple[str, str], ...]
    doubts: tuple[Doubt, ...]
    next: tuple[Join, ...]
    ground: tuple[str, str]
    agreement: Agreement | None
    called_ground: tuple[str, ...] = ()


def nets_view(view: CaseView, joins: Sequence[Join]) -> NetsView:
    """Names, doubts, and what to buzz next, as `joins_for` says."""
    board, book = view.board, view.book
    doubts = tuple(_doubt(book, one) for one in disagreements(book))
    return NetsView(
        tuple(net_names(board).items()), doubts, tuple(joins[:SHOWN]), likely_ground(board), file_agreement(book),
        _named_ground(book),
    )


def _named_ground(book: Casebook) -> tuple[str, ...]:
    """Pads that may be called ground by the names of their pins; not those of a part that may lie wrong."""
    board, read = book.board, resistances_to_ground(book.board, book.facts)
    silent = silent_to_ground(book)
    odd = {doubt.part for doubt in orientation_doubts(board, read, silent)}
    return tuple(pad for pad in called_ground(board, read) if pad not in silent and pad.rpartition(".")[0] not in odd)


def _doubt(book: Casebook, one: Disagreement) -> Doubt:
    said = {entry.event.sequence: entry_words(entry.what) for entry in book.counted}
    pads = (one.a, one.b)
    told = [f"e{key}, {said.get(key, 'an entry')}" for key in one.entries]
    if one.through:
        words = f"{told[0]}, though {' and '.join(one.through)} conducts between them: it may be open, or its joint"
    elif one.across:
        words = (
            f"{told[0]}, though {one.across} lies between: it or its rail may be short. "
            "No beep here tells its two sides apart: join by sight"
        )
    elif len(told) > 1:
        words = f"{told[0]}, and {told[1]}: both cannot be"
        if one.others:
            words += f" ({', '.join(f'e{key}' for key in one.others)} tie{'s' if len(one.others) == 1 else ''} them)"
    else:
        words = f"{told[0]}: it cannot be"
    fault = bool(one.through or one.across)
    return Doubt(words, one.entries, one.cures, pads, fault)


def file_agreement(book: Casebook) -> Agreement | None:
    """How the file that was laid on the picture last agrees with what was heard; None without one."""
    laid = [entry.what for entry in book.counted if isinstance(entry.what, BoardLaid)]
    if not laid:
        return None
    opened = book.events[0].what
    board = getattr(opened, "board", book.board)
    nets = {f"{part.name}.{pin.number}": pin.net for part in laid[-1].parts for pin in part.pins}
    conductors, _ = barriers_in(book.line, board)
    return agreement(book.copper.heard, nets, conductors, book.board.ground)


@dataclass(frozen=True, slots=True)
class Field:
    """A rectangle that was looked over. [mm], [1]"""

    side: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    magnification: float


def inspected(view: CaseView) -> tuple[Field, ...]:
    """The fields that were looked over, in the board's present millimetres."""
    out: list[Field] = []
    for entry in view.book.counted:
        what = entry.what
        if isinstance(what, Inspected):
            out.append(Field(what.side, what.x_mm, what.y_mm, what.width_mm, what.height_mm, what.magnification))
        if isinstance(what, ScaleSet):
            factor = what.factor
            out = [
                Field(f.side, f.x_mm * factor, f.y_mm * factor, f.width_mm * factor, f.height_mm * factor,
                      f.magnification) for f in out
            ]  # fmt: skip
    return tuple(out)


def look_over(
    desk: Desk, case: str, side: str, box_mm: tuple[float, float, float, float], magnification: float,
    *, expected: int | None = None,
) -> CaseView:  # fmt: skip
    """A field was looked over and nothing found; close up, that says something of the parts in it. [mm], [1]"""
    x, y, width, height = box_mm
    entries: list[Entry] = [Inspected(side, x, y, width, height, magnification)]
    board = book_of(desk, case).board
    inside = tuple(
        part.name for part in board.parts
        if part.place is not None and part.place.side == side
        and x <= part.place.x_mm <= x + width and y <= part.place.y_mm <= y + height
    )  # fmt: skip
    seen = {part for look in book_of(desk, case).facts.looks for part in look.parts}
    fresh = tuple(name for name in inside if name not in seen)
    if magnification >= CLOSE_UP and fresh:
        entries.append(LookRecorded(fresh, LookFinding.NOTHING))
    return thought_through(desk, case, record(desk, case, *entries, expected=expected))


def mark(desk: Desk, case: str, part: str, finding: str, *, expected: int | None = None) -> CaseView:
    """Something was seen at a part: a crack, a burn, corrosion; it goes into the belief."""
    known = {one.value: one for one in LookFinding}
    if finding not in known:
        raise DataError(f"{finding[:40]!r} is nothing that is noted of a look.", hint=f"one of {', '.join(known)}")
    entry = LookRecorded((part,), known[finding])
    return thought_through(desk, case, record(desk, case, entry, expected=expected))
