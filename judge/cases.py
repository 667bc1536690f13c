"""Examination questions: a board, what is wrong with it, and the map that a policy gets to see."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from judge.boards import board_of
from judge.faults import RECIPES, severity_of
from judge.imported import board_file, demo_files, world_of_file
from judge.maps import hidden_parts, map_of
from judge.meter import claimed_meter
from judge.world import Case, Fault, Random, World, random_of
from ohmwright.circuit import Board

FAMILIES = ("notebook", "tablet", "server-card", "sensor-node", "industrial", "healthy-core", "imported")
"""Board families. ``imported`` reads real KiCad boards; the others are generated."""
SIZES = (30, 60, 120, 250, 500)
"""Net counts at which the breakdown by size is cut. [1]"""
HIDING = (0.0, 0.12, 0.40, 0.70)
"""Shares of the parts left out of the map. [1]"""


@dataclass(frozen=True)
class Exam:
    """One question with its map.

    Parameters
    ----------
    board : Board
        The map the policy sees, hidden parts left out.
    case : Case
        With the truth: for the bench and the metrics, never for a policy.
    """

    name: str
    seed: str
    board: Board
    case: Case


def exams(
    family: str,
    count: int,
    seed: str,
    *,
    nets: tuple[int, int] = (15, 500),
    hiding: float | None = None,
    fault: str | None = None,
    files: tuple[str, ...] = (),
) -> Iterator[Exam]:
    """Questions of one family; the same words give the same questions in every process.

    Parameters
    ----------
    family : str
        One of `FAMILIES`.
    nets : (int, int)
        Least and most nets of a board; files named are taken as they are. [1]
    hiding : float or None
        Share of the parts hidden; None draws one of `HIDING`. [1]
    fault : str or None
        A fault recipe (see `judge.faults.RECIPES`), None draws one.
    files : tuple of str
        KiCad boards for the family ``imported``; without any, those of the Debian package kicad-demos.
    """
    for k in range(count):
        yield exam_at(family, k, seed, nets=nets, hiding=hiding, fault=fault, files=files)


def exam_at(
    family: str,
    index: int,
    seed: str,
    *,
    nets: tuple[int, int] = (15, 500),
    hiding: float | None = None,
    fault: str | None = None,
    files: tuple[str, ...] = (),
) -> Exam:
    """One of the questions that `exams` gives, without making those before it."""
    return _exam(family, f"{family}/{seed}/{index}", nets, hiding, fault, files)


def _exam(
    family: str, seed: str, nets: tuple[int, int], hiding: float | None, fault: str | None, files: tuple[str, ...]
) -> Exam:
    luck = random_of("exam", seed)
    world, read = _world(family, seed, nets, files, luck)
    share = float(luck.choice(HIDING)) if hiding is None else hiding
    recipe, faults = _faults(luck, world, fault)
    hidden = hidden_parts(world, share, seed)
    culprits = {f.part for f in faults}
    where = "none" if not culprits else "hidden" if culprits <= hidden else "part" if culprits & hidden else "mapped"
    tags = (
        ("family", family), ("fault", recipe), ("severity", severity_of(faults)), ("hiding", f"{share:g}"),
        ("culprit", where), ("nets", _size_words(len(world.nets))), ("count", str(len(faults))),
    )  # fmt: skip
    method = "camera" if luck.random() < 0.4 else "finger"
    case = Case(seed, seed, world, faults, hidden, claimed_meter(seed), method, tags)
    return Exam(seed, seed, map_of(world, hidden, share, seed, read), case)


def _size_words(nets: int) -> str:
    return next((f"up to {most}" for most in SIZES if nets <= most), f"over {SIZES[-1]}")


def _world(
    family: str, seed: str, nets: tuple[int, int], files: tuple[str, ...], luck: Random
) -> tuple[World, Board | None]:
    """The true board, and for a file what the program reads in it."""
    if family != "imported":
        return board_of(family, seed, nets), None
    paths = files or tuple(p for p in demo_files() if nets[0] <= len(board_file(p).nets) <= nets[1]) or demo_files()
    path = paths[int(luck.integers(len(paths)))]
    return world_of_file(path, seed), board_file(path)


def _faults(luck: Random, world: World, asked: str | None) -> tuple[str, tuple[Fault, ...]]:
    """A recipe and what it makes of the board; another where the board has nothing it fits."""
    for _ in range(30):
        name = asked or _drawn(luck, world)
        made = RECIPES[name][0](luck, world)
        if made is not None:
            return name, made
    if asked is not None:
        raise ValueError(f"the board {world.name} has nothing that {asked!r} fits")
    return "none", ()


def _drawn(luck: Random, world: World) -> str:
    weights = {name: weight for name, (_, weight) in RECIPES.items()}
    if world.family == "healthy-core":
        # Half of these boards are well: the question is whether a policy sees it.
        weights["none"] = 0.6 * sum(weights.values())
        weights["core short"] *= 5.0
    total = sum(weights.values())
    return str(luck.choice(list(weights), p=[w / total for w in weights.values()]))
