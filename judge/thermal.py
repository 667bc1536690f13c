"""Heat as a network: parts stand on a grid of board, joined by the copper of their rails and through coils.

Every part is a node at its place, tied to the cells of the board under it; cells conduct sideways through
laminate and copper planes and give heat to the air from both sides; the copper tree of each rail conducts
from pad to pad. A coil is a node that the copper of both its nets is tied to, so heat passes through it.
Material figures are handbook values from memory (copper 390 W/m K, FR-4 0.3 W/m K, still air 8 to 12 W/m² K);
the rest are estimates.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

from judge.wiring import copper_tree
from judge.world import TruePart, World

CELL = 3.0
"""Edge of a cell of board. [mm]"""
SHEET = 390.0 * 35e-6 * 2.0 * 0.45 + 0.3 * 1.5e-3
"""Sideways conductance of a square: two planes of 35 µm copper, not quite whole, and laminate. [W/K]"""
AIR = 2.0 * 10.0
"""Heat to the air from both sides. [W/m² K]"""
STRAP = 390.0 * 35e-6
"""Conductance of a square of one layer of copper. [W/K]"""
MARGIN_MM = 6.0


class Warmth:
    """The thermal network of one board."""

    def __init__(self, world: World) -> None:
        self.names = tuple(part.name for part in world.parts)
        self._at = {name: k for k, name in enumerate(self.names)}
        self._rows: list[int] = []
        self._columns: list[int] = []
        self._values: list[float] = []
        self._lay_board(world)
        for part in world.parts:
            self._stand(part)
        for net in world.nets:
            switched = any(part.kind == "coil" for part, _ in world.pads[net.name])
            if (net.rail or switched) and net.name != world.ground:
                self._strap(world, net.name, max(net.width_mm, 2.0 if switched else 0.2))
        size = len(self.names) + self._cells
        matrix = coo_matrix((self._values, (self._rows, self._columns)), shape=(size, size)).tocsc()
        self._solver = splu(matrix)

    def rises(self, watts: Mapping[str, float]) -> dict[str, float]:
        """How much warmer than the air each part is while those powers last. [W] to [K]"""
        power = np.zeros(len(self.names) + self._cells)
        for name, value in watts.items():
            power[self._at[name]] += value
        warm = self._solver.solve(power)
        return {name: float(warm[k]) for k, name in enumerate(self.names)}

    # The network

    def _lay_board(self, world: World) -> None:
        xs = [part.place.x_mm for part in world.parts]
        ys = [part.place.y_mm for part in world.parts]
        self._left, self._top = min(xs) - MARGIN_MM, min(ys) - MARGIN_MM
        self._wide = int((max(xs) + MARGIN_MM - self._left) / CELL) + 1
        self._high = int((max(ys) + MARGIN_MM - self._top) / CELL) + 1
        self._cells = self._wide * self._high
        to_air = AIR * (CELL * 1e-3) ** 2
        first = len(self.names)
        for row in range(self._high):
            for column in range(self._wide):
                cell = first + row * self._wide + column
                self._to_air(cell, to_air)
                if column + 1 < self._wide:
                    self._join(cell, cell + 1, SHEET)
                if row + 1 < self._high:
                    self._join(cell, cell + self._wide, SHEET)

    def _stand(self, part: TruePart) -> None:
        area = max(part.place.width_mm * part.place.height_mm, 0.4)
        here = self._at[part.name]
        self._to_air(here, AIR / 2.0 * area * 1e-6)
        column = int((part.place.x_mm - self._left) / CELL)
        row = int((part.place.y_mm - self._top) / CELL)
        cell = len(self.names) + min(row, self._high - 1) * self._wide + min(column, self._wide - 1)
        # A chip capacitor of a square millimetre about 80 K/W, a power package of 25 about 15 K/W.
        self._join(here, cell, math.sqrt(area) / 70.0)

    def _strap(self, world: World, net: str, width_mm: float) -> None:
        for pad, to, length in copper_tree(world, net):
            a, b = self._at[pad.rpartition(".")[0]], self._at[to.rpartition(".")[0]]
            if a != b:
                self._join(a, b, STRAP * min(width_mm, 4.0) / length)

    def _join(self, a: int, b: int, watts_per_kelvin: float) -> None:
        for row, column, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
            self._rows.append(row)
            self._columns.append(column)
            self._values.append(sign * watts_per_kelvin)

    def _to_air(self, node: int, watts_per_kelvin: float) -> None:
        self._rows.append(node)
        self._columns.append(node)
        self._values.append(watts_per_kelvin)
