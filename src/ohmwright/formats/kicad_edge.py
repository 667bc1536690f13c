"""The edge of a board as a KiCad board file draws it: lines, arcs and rectangles of the layer Edge.Cuts."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ohmwright.syntax.sexpr import Sexpr, atom, child

Point = tuple[float, float]
LAYER = "Edge.Cuts"
GAP_MM = 0.1
"""How far apart two ends may lie that are meant to meet. [mm] KiCad's own check of an outline allows 0.01 by default,
from memory; ten times that still joins no slot to an edge"""
STEPS = 24
"""Corners that a full circle is given. [1]"""
MOST_STROKES = 5_000
FARTHEST_MM = 2_000.0


def board_edge(tree: list[Sexpr]) -> tuple[Point, ...]:
    """Corners of the outermost closed line on Edge.Cuts, in the file's millimetres, y down; empty where none closes."""
    strokes: list[list[Point]] = []
    for node in tree:
        if isinstance(node, list) and node and atom(child(node, "layer")) == LAYER and len(strokes) < MOST_STROKES:
            stroke = list(_stroke(node))
            if len(stroke) > 1 and all(abs(v) <= FARTHEST_MM for at in stroke for v in at):
                strokes.append(stroke)
    rings = sorted(_rings(strokes), key=_area)
    return tuple(rings[-1]) if rings else ()


def _stroke(node: list[Sexpr]) -> Iterator[Point]:
    """The corners of one drawn thing; nothing where it is not told as it should be."""
    kind, points = node[0], {key: _point(node, key) for key in ("start", "mid", "end", "center")}
    start, mid, end, centre = (points[key] for key in ("start", "mid", "end", "center"))
    if end is None or (start is None and centre is None):
        return
    if kind == "gr_line" and start:
        yield from (start, end)
    elif kind == "gr_rect" and start:
        yield from (start, (end[0], start[1]), end, (start[0], end[1]), start)
    elif kind == "gr_circle" and (centre or start):
        yield from _turned(centre or start or end, end, 360.0)
    elif kind == "gr_arc" and start:
        # Before version 6 an arc was told by its centre, where it begins, and how far it turns.
        angle = atom(child(node, "angle"))
        yield from (start, mid, end) if mid else _turned(start, end, _number(angle) or 0.0)


def _turned(centre: Point, first: Point, degrees: float) -> Iterator[Point]:
    """Points from one on a circle about a centre, clockwise as y points down. [mm], [deg]"""
    radius, begin = math.dist(centre, first), math.atan2(first[1] - centre[1], first[0] - centre[0])
    steps = max(2, math.ceil(abs(degrees) / 360.0 * STEPS))
    for n in range(steps + 1):
        at = begin + math.radians(degrees) * n / steps
        yield centre[0] + radius * math.cos(at), centre[1] + radius * math.sin(at)


def _rings(strokes: list[list[Point]]) -> Iterator[list[Point]]:
    """Strokes joined end to end, as far as they close."""
    left = list(strokes)
    while left:
        line = left.pop()
        while math.dist(line[0], line[-1]) > GAP_MM or len(line) < 3:
            ends = [(math.dist(line[-1], one[way]), n, way) for n, one in enumerate(left) for way in (0, -1)]
            gap, n, way = min(ends, default=(math.inf, 0, 0))
            if gap > GAP_MM:
                break
            more = left.pop(n)
            line += more[1:] if way == 0 else more[-2::-1]
        if len(line) > 3 and math.dist(line[0], line[-1]) <= GAP_MM:
            yield line[:-1]


def _area(ring: list[Point]) -> float:
    around = zip(ring, ring[1:] + ring[:1], strict=True)
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in around)) / 2.0


def _point(node: list[Sexpr], key: str) -> Point | None:
    told = child(node, key)
    x, y = (_number(atom(told, n)) for n in (1, 2)) if told else (None, None)
    return None if x is None or y is None else (x, y)


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
