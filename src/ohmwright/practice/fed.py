"""The board while the supply is on: solved again and again until switches and converters have settled."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace

from ohmwright.circuit import Part
from ohmwright.practice.fault_json import NOTHING_WRONG
from ohmwright.practice.power import Converter, Load, Pass, converters_of, loads_of, passes_of
from ohmwright.practice.solve import Network, Solved, junction_amps, solved
from ohmwright.practice.specimen import Specimen

ENABLED = 0.8
"""Volts at an enable pin that count as high. [V]"""
HELD_SHUT = 500.0
"""Ohms between gate and source that keep a switch open. [Ω]"""
TOO_HIGH = 1.15
"""Share of its target above which a converter shuts down for good. [1]"""
STIFF = 0.02
"""Output resistance of a converter. [Ω]"""
ROUNDS = 80


@dataclass(frozen=True, slots=True)
class Clips:
    """A supply as it is set and clipped, with the true resistance of its leads. [V], [A], [Ω]"""

    plus: str
    minus: str
    volts: float
    limit: float
    leads: float


@dataclass(frozen=True)
class FedBoard:
    """Voltages everywhere, what the supply gives, and the watts in each part; `network` is as it was solved."""

    network: Network
    volts: dict[str, float]
    terminal_volts: float
    amps: float
    limiting: bool
    watts: dict[str, float]
    closed: frozenset[str]
    running: frozenset[str]


@dataclass
class _Attempt:
    """What is on so far and what each running converter takes and may give."""

    closed: set[Pass] = field(default_factory=set)
    running: dict[Converter, float] = field(default_factory=dict)
    wants: dict[Converter, float] = field(default_factory=dict)
    may: dict[Converter, float] = field(default_factory=dict)
    bypass: set[Converter] = field(default_factory=set)


def fed_board(specimen: Specimen, clips: Clips, *, running: bool = True) -> FedBoard:
    """How the board stands while it is fed.

    Parameters
    ----------
    running : bool
        Whether switching converters start, as on a board that is awake; linear ones and switches always do.
    """
    sound = Specimen(specimen.board, NOTHING_WRONG, specimen.seed, set(specimen.off), set(specimen.wires))
    # A switch tries again and again; what is read is the attempt, so what closes on a sound board is closed here.
    closed = {
        p for p in _settled(sound, clips, running, set())[0].closed if not (p.gate and _joined(specimen, *p.gate))
    }
    return _account(specimen, clips, *_settled(specimen, clips, running, closed))


def _settled(
    specimen: Specimen, clips: Clips, running: bool, closed: set[Pass]
) -> tuple[_Attempt, list[Load], Network, Solved, list[Converter]]:
    board = specimen.board
    awake = {part.name for part in board.parts if running or part.kind not in ("buck", "charger")}
    present = [p for p in passes_of(board, specimen.seed) if p.part in awake - specimen.off]
    if not running:
        # Nothing is awake to hold an enable low; they float up or are pulled up.
        present = [replace(p, enable=None) for p in present]
    converters = [c for c in converters_of(board) if c.part in awake - specimen.off]
    loads = [load for load in loads_of(board, specimen.seed) if load.part not in specimen.off]
    attempt = _Attempt(closed)
    for _ in range(ROUNDS):
        network, order = _network(specimen, clips, attempt, loads)
        answer = solved(network)
        more = _switch_on(specimen, answer, attempt, present, converters)
        if not (_settle(answer, attempt, order) or more):
            break
    return attempt, loads, network, answer, order


def _network(specimen: Specimen, clips: Clips, attempt: _Attempt, loads: list[Load]) -> tuple[Network, list[Converter]]:
    """The network with the supply as its first source and each running converter in order."""
    network, ground = specimen.network(), specimen.board.ground
    network.sources.append((clips.plus, clips.minus, clips.limit, clips.volts, clips.leads))
    for switch in attempt.closed:
        network.resistances.append((switch.a, switch.b, switch.ohms))
    order = list(attempt.running)
    for c in order:
        if c in attempt.bypass:
            network.resistances.append((c.source, c.drive, 0.4))
            continue
        network.sources.append((c.drive, ground, attempt.may[c], attempt.running[c], STIFF))
        wants = attempt.wants[c]
        network.sinks.append((c.source, ground, wants, c.lets_go, 0.1 / max(wants, 1e-4)))
    for load in loads:
        network.sinks.append((load.net, ground, load.amps, load.wakes, 0.05 * load.wakes / load.amps))
    return network, [c for c in order if c not in attempt.bypass]


def _switch_on(
    specimen: Specimen, answer: Solved, attempt: _Attempt, passes: list[Pass], converters: list[Converter]
) -> bool:
    """Close what is fed enough, and start what may start; whether anything did. Nothing opens again."""
    volts = answer.volts
    more = False
    for switch in passes:
        if switch in attempt.closed or max(volts.get(switch.a, 0.0), volts.get(switch.b, 0.0)) < switch.needs:
            continue
        if switch.gate and _joined(specimen, *switch.gate):
            continue
        if switch.follows and switch.part not in {c.part for c in attempt.running if not c.linear}:
            continue
        if switch.enable is None or volts.get(switch.enable, 0.0) >= ENABLED:
            attempt.closed.add(switch)
            more = True
    for c in converters:
        if c in attempt.running or volts.get(c.source, 0.0) < c.start:
            continue
        if c.enable and volts.get(c.enable, 0.0) < ENABLED:
            continue
        if c.supply and volts.get(c.supply, 0.0) < 2.5:
            continue
        target = regulated(specimen, c)
        if target is not None:
            attempt.running[c], attempt.wants[c], attempt.may[c] = target, 2e-3, c.limit
            more = True
    return more


def _joined(specimen: Specimen, gate: str, source: str) -> bool:
    """Whether a defect ties a gate to its source."""
    return any(
        d.mode in ("short", "leak", "solder bridge", "dirt") and d.size < HELD_SHUT
        and set(specimen.nets_of(d)) == {gate, source} and (d.part not in specimen.off or d.mode == "dirt")
        for d in specimen.defects
    )  # fmt: skip


def regulated(specimen: Specimen, c: Converter) -> float | None:
    """The volts its feedback makes it hold, or None where it shuts down. [V]

    The divider's share is that of the network around it, with one volt on the output.
    """
    if c.feedback is None:
        return c.target
    sound = Specimen(specimen.board, NOTHING_WRONG, specimen.seed)
    design, now = _share(sound, c), _share(specimen, c)
    if design is None or design < 1e-4 or now is None:
        return c.target
    if now <= 1e-4 or design / now > TOO_HIGH:
        return None
    return c.target * design / now


def _share(specimen: Specimen, c: Converter) -> float | None:
    """Share of the output's volts at the feedback pin; None where the output cannot be lifted. [1]"""
    network = specimen.network()
    network.sources.append((c.output, specimen.board.ground, 1.0, 1.0, 1e-3))
    volts = solved(network).volts
    out = volts.get(c.output, 0.0)
    return volts.get(c.feedback or "", 0.0) / out if out > 1e-3 else None


def _settle(answer: Solved, attempt: _Attempt, order: list[Converter]) -> bool:
    """Let each converter take what its output costs; whether anything changed."""
    back = {c for c in attempt.bypass if answer.volts.get(c.source, 0.0) > attempt.running[c] + 0.3}
    attempt.bypass -= back
    changed = bool(back)
    for i, c in enumerate(order):
        inside, out, given = answer.volts.get(c.source, 0.0), answer.volts.get(c.drive, 0.0), answer.source_amps[i + 1]
        if c.linear and inside < attempt.running[c] + 0.2:
            attempt.bypass.add(c)
            changed = True
            continue
        wants = c.taken(out, given, inside)
        taken, wanted = answer.sink_amps[i], attempt.wants[c]
        if taken < 0.97 * wanted and inside < 1.1 * c.lets_go and given > 1e-3:
            # The input gives way: what comes out is what went in.
            share = max(taken / wanted, 0.3)
            attempt.may[c] = max(min(attempt.may[c], given) * (0.4 + 0.6 * share), 1e-4)
            changed = True
        if abs(wants - wanted) > 1e-5 + 2e-3 * wanted and taken >= 0.97 * wanted:
            attempt.wants[c] = wanted + 0.7 * (wants - wanted)
            changed = True
    return changed


def _account(
    specimen: Specimen, clips: Clips, attempt: _Attempt, loads: list[Load], network: Network, answer: Solved,
    order: list[Converter],
) -> FedBoard:  # fmt: skip
    """Supply display and watts by part."""
    amps = answer.source_amps[0]
    terminal = answer.across(clips.plus, clips.minus) + amps * clips.leads
    watts: dict[str, float] = defaultdict(float)
    for part in specimen.board.parts:
        if part.name not in specimen.off:
            watts[part.name] += _watts_inside(specimen, part, answer)
    for switch in attempt.closed:
        watts[switch.part] += answer.across(switch.a, switch.b) ** 2 / switch.ohms
    for i, c in enumerate(order):
        taken = answer.sink_amps[i] * answer.volts.get(c.source, 0.0)
        watts[c.part] += max(taken - answer.source_amps[i + 1] * answer.volts.get(c.drive, 0.0), 0.0)
    for k, load in enumerate(loads):
        watts[load.part] += answer.sink_amps[len(order) + k] * answer.volts.get(load.net, 0.0)
    return FedBoard(
        network, answer.volts, terminal, amps, amps > 0.995 * clips.limit, dict(watts),
        frozenset(s.part for s in attempt.closed), frozenset(c.part for c in attempt.running),
    )  # fmt: skip


def _watts_inside(specimen: Specimen, part: Part, answer: Solved) -> float:
    """Heat in what a part conducts by itself, its defects included. [W]"""
    own = Network(specimen.board.ground)
    specimen.add(own, part)
    total = sum(answer.across(a, b) ** 2 / ohms for a, b, ohms in own.resistances)
    for anode, cathode, drop, emission in own.junctions:
        across = answer.across(anode, cathode)
        total += across * junction_amps(across, drop, emission) if across > 0.0 else 0.0
    return total
