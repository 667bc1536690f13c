"""Invented boards under an invented thermal camera, from the heat equation solved by finite volumes.

What the reading of pictures takes for granted is drawn from wide ranges here: how the board carries and loses heat,
bodies of a real size, board edges that heat does not cross, pictures before anything has settled, a lens that blurs,
a view that is not straight, marks set by hand, drift with a tilt, metal tops that show too cold, shields that mirror
something warm which comes, goes, or stays. Nothing of `ohmwright.fields` is used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse.linalg import splu

from ohmwright.circuit import Board, Net, Part, Pin, Place

Array = NDArray[np.float64]
Pairs = list[tuple[tuple[float, float], tuple[float, float]]]
WIDE, HIGH, CELL = 80, 60, 0.5
"""Board [mm], and the finite volumes' side [mm]."""
ROWS, COLUMNS = 120, 160
"""Of the camera. [px]"""
SIZES = ((1.0, 0.5), (1.6, 0.8), (2.0, 1.25), (3.2, 1.6), (3.0, 1.6), (5.0, 4.0), (5.0, 5.0), (7.0, 7.0))
"""Usual bodies: 0402 to 1206 (IEC 60115-8 sizes), SOT-23, SO-8, QFN, coil. [mm]"""


@dataclass(frozen=True, eq=False)
class Scene:
    """What the camera saw, and what was so.

    Parameters
    ----------
    before, during, after : ndarray, shape (1, ROWS, COLUMNS)
        [°C]
    hot : dict
        Watts of every part that was warm, those that are not on the map too. [W]
    """

    board: Board
    before: Array
    during: Array
    after: Array
    pairs: Pairs
    hot: dict[str, float]
    shown: dict[str, tuple[float, float]]
    seconds: float
    frames: Array | None = None
    hertz: float = 0.0
    rate: float = 0.0

    @property
    def watts(self) -> float:
        """Fed. [W]"""
        return sum(self.hot.values())


@dataclass(frozen=True, slots=True)
class Wishes:
    """What kind of scene. `reflections`: a shield mirrors something that moves. `series`: the feed is switched."""

    watts: tuple[float, float] = (0.1, 1.0)
    reflections: float = 0.4
    carrier: float = 0.35
    unmapped: float = 0.1
    hidden: float = 0.0
    series: bool = False
    noise: float = 0.05
    knock: float = 0.0
    """How far the camera is knocked between the pictures, or once within a series, of either direction. [px]"""


def parts_laid(chance: np.random.Generator, count: int = 45) -> list[Part]:
    """Parts of usual sizes that do not touch each other."""
    laid: list[Part] = []
    boxes: list[tuple[float, float, float, float]] = []
    kinds = ("capacitor", "capacitor", "capacitor", "resistor", "ic", "coil", "fuse")
    while len(laid) < count:
        width, height = SIZES[int(chance.integers(len(SIZES)))]
        turned = chance.random() < 0.5
        w, h = (height, width) if turned else (width, height)
        x, y = chance.uniform(3 + w / 2, WIDE - 3 - w / 2), chance.uniform(3 + h / 2, HIGH - 3 - h / 2)
        if any(abs(x - a) < (w + c) / 2 + 0.4 and abs(y - b) < (h + d) / 2 + 0.4 for a, b, c, d in boxes):
            continue
        boxes.append((x, y, w, h))
        kind = kinds[int(chance.integers(len(kinds)))]
        ends = ("V33", "V33B") if kind in ("coil", "fuse") else ("V33", "GND")
        place = Place(x, y, "top", width, height, 90.0 if turned else 0.0)
        laid.append(Part(f"P{len(laid)}", kind, (Pin("1", ends[0]), Pin("2", ends[1])), place=place))
    return laid


class Plate2:
    """A board of finite volumes, insulated at its edges."""

    def __init__(self, square: float, loss: float, capacity: float, dt: float) -> None:
        self.shape = (round(HIGH / CELL), round(WIDE / CELL))
        node = np.arange(self.shape[0] * self.shape[1]).reshape(self.shape)
        a = np.concatenate((node[:, :-1].ravel(), node[:-1].ravel()))
        b = np.concatenate((node[:, 1:].ravel(), node[1:].ravel()))
        g = np.full(len(a), square)
        ends = (np.concatenate((a, b, a, b)), np.concatenate((b, a, a, b)))
        lap = sparse.csc_matrix((np.concatenate((-g, -g, g, g)), ends), shape=(node.size, node.size))
        area = (CELL * 1e-3) ** 2
        self.keep = area * capacity / dt
        whole = lap + sparse.identity(node.size, format="csc") * (area * loss + self.keep)
        self.factor = splu(whole.tocsc(), permc_spec="MMD_AT_PLUS_A")

    def frames(self, power: Array, feed: Array) -> Array:
        """Rise after each step, shape (n, rows, columns). [K]"""
        t, out = np.zeros(power.size), []
        for on in feed:
            t = self.factor.solve(self.keep * t + power.ravel() * on)
            out.append(t.reshape(self.shape))
        return np.array(out)


def power_map(parts: list[Part], hot: dict[str, float]) -> Array:
    """Watts in each finite volume: each part's evenly under its body."""
    rows, columns = round(HIGH / CELL), round(WIDE / CELL)
    y, x = (np.mgrid[0:rows, 0:columns] + 0.5) * CELL
    out = np.zeros((rows, columns))
    for part in parts:
        if part.name in hot and part.place is not None:
            under = _under(part.place, x, y)
            if not under.any():
                under.flat[int(np.argmin((x - part.place.x_mm) ** 2 + (y - part.place.y_mm) ** 2))] = True
            out[under] += hot[part.name] / under.sum()
    return out


def _under(place: Place, x: Array, y: Array) -> NDArray[np.bool_]:
    w, h = (place.height_mm, place.width_mm) if place.angle_deg == 90.0 else (place.width_mm, place.height_mm)
    return np.asarray((abs(x - place.x_mm) <= w / 2) & (abs(y - place.y_mm) <= h / 2))


class Camera:
    """Looks down a little askew. Its pixels are rays to the board; everything is blurred before it is noisy."""

    def __init__(self, chance: np.random.Generator) -> None:
        self.chance = chance
        scale, turn = chance.uniform(0.42, 0.6), chance.normal(0.0, 0.12)
        c, s = scale * math.cos(turn), scale * math.sin(turn)
        lean = chance.normal(0.0, 3e-4, 2)
        middle = (WIDE / 2 + chance.normal(0.0, 2.0), HIGH / 2 + chance.normal(0.0, 2.0))
        self.way = np.array([[c, -s, middle[0]], [s, c, middle[1]], [lean[0], lean[1], 1.0]])
        self.blur = chance.uniform(0.5, 1.1)
        v, u = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
        self.x, self.y = self.board(u, v)

    def board(self, u: Array, v: Array) -> tuple[Array, Array]:
        """Where pixels are on the board. [mm]"""
        p = np.stack((u - COLUMNS / 2, v - ROWS / 2, np.ones_like(u)))
        x, y, w = np.tensordot(self.way, p, axes=1)
        return x / w, y / w

    def seen(self, kelvin: Array, shiny: Array, mirrored: Array, noise: float, shift: Array) -> Array:
        """One picture of a board that much above 24 °C, what is shiny mirroring the room. [°C]"""
        at = [(self.y / CELL - 0.5), (self.x / CELL - 0.5)]
        on = (self.x > 0) & (self.x < WIDE) & (self.y > 0) & (self.y < HIGH)
        rise = np.where(on, ndimage.map_coordinates(kelvin, at, order=1, mode="nearest"), 0.0)
        gloss = np.where(on, ndimage.map_coordinates(shiny, at, order=0, mode="nearest"), 0.0)
        warm = (1.0 - gloss) * rise + gloss * mirrored
        warm = ndimage.shift(ndimage.gaussian_filter(warm, self.blur), shift, order=1, mode="nearest")
        return np.asarray(24.0 + warm + self.chance.normal(0.0, noise, warm.shape))

    def marks(self) -> Pairs:
        """Four corners as set by hand: 0.7 px, and one in ten sets has one mark that is off by three."""
        out = []
        for u, v in ((6.0, 6.0), (COLUMNS - 7.0, 6.0), (COLUMNS - 7.0, ROWS - 7.0), (6.0, ROWS - 7.0)):
            x, y = self.board(np.array(u), np.array(v))
            du, dv = self.chance.normal(0.0, 0.7, 2)
            out.append(((u + float(du), v + float(dv)), (float(x), float(y))))
        if self.chance.random() < 0.1:
            k = int(self.chance.integers(4))
            (u, v), there = out[k]
            out[k] = ((u + float(self.chance.normal(0.0, 3.0)), v), there)
        return out


def scene(seed: int, wishes: Wishes) -> Scene:
    """One board, one fault, one camera."""
    chance = np.random.default_rng(seed)
    parts = parts_laid(chance)
    hot = _hot(chance, parts, wishes)
    square, loss, capacity = (v * math.exp(0.35 * chance.normal()) for v in (0.014, 20.0, 3200.0))
    camera = Camera(chance)
    board = _board([part for part in parts if part.name != "P0" or "P0" not in hot or not _lost(chance, wishes)])
    shiny, mirror = _shine(chance, parts, hot)
    drawn = {part.name: (part.place.x_mm, part.place.y_mm) for part in parts if part.name in hot and part.place}
    fed = power_map(parts, {k: v for k, v in hot.items() if chance.random() >= wishes.hidden})
    if wishes.series:
        return _series(chance, wishes, board, camera, hot, drawn, (square, loss, capacity), fed, (shiny, mirror))
    seconds = float(chance.uniform(8.0, 90.0))
    rise = Plate2(square, loss, capacity, seconds / 12).frames(fed, np.ones(12))[-1]
    moving = chance.random() < wishes.reflections
    warm = [_mirrored(chance, moving) for _ in range(3)]
    steady = _mirrored(chance, chance.random() < 0.5)
    tilt = chance.normal(0.0, 0.3, (3, 2))
    drift = np.cumsum(chance.normal(0.0, 0.4, 3))
    pictures = []
    # A stream of its own leaves all else of a seed as it was.
    knocks = wishes.knock * chance.spawn(1)[0].normal(0.0, 1.0, (3, 2))
    for k, heat in enumerate((np.zeros_like(rise), rise, np.zeros_like(rise))):
        stand = chance.normal(0.0, 0.15, 2) + (knocks[k] if k != 1 else 0.0)  # marks are set in the one with heat
        picture = camera.seen(heat, shiny * mirror, steady + warm[k], wishes.noise, stand)
        v, u = np.mgrid[0:ROWS, 0:COLUMNS]
        pictures.append((picture + drift[k] + tilt[k, 0] * u / COLUMNS + tilt[k, 1] * v / ROWS)[None])
    before, during, after = pictures
    return Scene(board, before, during, after, camera.marks(), hot, drawn, seconds)


def _series(
    chance: np.random.Generator,
    wishes: Wishes,
    board: Board,
    camera: Camera,
    hot: dict[str, float],
    drawn: dict[str, tuple[float, float]],
    plate: tuple[float, float, float],
    fed: Array,
    shine: tuple[Array, float],
) -> Scene:
    hertz, rate, periods, steps = 0.25, 3.0, 6, 8
    # Backward Euler turns a wave by half a step: with eight steps a frame that is 2°. Nobody starts the camera with the
    # feed, so it begins anywhere in the period. A stream of its own leaves all else of a seed as it was.
    late = chance.spawn(1)[0].random()
    bump = chance.spawn(1)[0]
    when, knock = bump.random(), wishes.knock * bump.normal(0.0, 1.0, 2)
    at = (np.arange(round((4 + periods) / hertz * rate) * steps) + 0.5) / (rate * steps)
    feed = ((at * hertz + late) % 1.0 < 0.5).astype(float)
    rise = Plate2(*plate, 1.0 / (rate * steps)).frames(fed, feed)[steps - 1 :: steps][round(4 / hertz * rate) :]
    tilt, drift, walk = chance.normal(0.0, 0.3, 2), chance.normal(0.0, 1.0), chance.uniform(0.5, 2.5)
    glare = _mirrored(chance, chance.random() < wishes.reflections)
    v, u = np.mgrid[0:ROWS, 0:COLUMNS]
    frames = []
    for k, heat in enumerate(rise):
        share, pace = k / len(rise), float(np.sin(k / rate * walk) > 0.2)
        stand = knock * (share > when)
        picture = camera.seen(heat, shine[0] * shine[1], glare * pace, wishes.noise, stand)
        frames.append(picture + drift * share + share * (tilt[0] * u / COLUMNS + tilt[1] * v / ROWS))
    series = np.array(frames)
    none = series[:1]
    return Scene(board, none, none, none, camera.marks(), hot, drawn, len(series) / rate, series, hertz, rate)


def _hot(chance: np.random.Generator, parts: list[Part], wishes: Wishes) -> dict[str, float]:
    ends = [p for p in parts if p.kind not in ("coil", "fuse")]
    culprit = parts[0] if chance.random() < wishes.unmapped else ends[int(chance.integers(len(ends)))]
    watts = float(np.exp(chance.uniform(*np.log(wishes.watts))))
    hot = {culprit.name: watts}
    ways = [p for p in parts if p.kind in ("coil", "fuse") and p is not culprit]
    if ways and chance.random() < wishes.carrier:
        hot[ways[int(chance.integers(len(ways)))].name] = watts * float(chance.uniform(0.1, 0.8))
    return hot


def _lost(chance: np.random.Generator, wishes: Wishes) -> bool:
    return wishes.unmapped > 0.0


def _board(parts: list[Part]) -> Board:
    nets = (Net("GND"), Net("V33", rail=True, nominal=3.3), Net("V33B", rail=True, nominal=3.3))
    return Board("scene", "GND", nets, tuple(parts))


def _shine(chance: np.random.Generator, parts: list[Part], hot: dict[str, float]) -> tuple[Array, float]:
    """How much of every spot is mirror: two shields, and some metal tops, the hot one's among them now and then."""
    rows, columns = round(HIGH / CELL), round(WIDE / CELL)
    y, x = (np.mgrid[0:rows, 0:columns] + 0.5) * CELL
    out = np.full((rows, columns), 0.08)
    for _ in range(2):
        px, py = chance.uniform(5, WIDE - 15), chance.uniform(5, HIGH - 15)
        here = (x > px) & (x < px + 10) & (y > py) & (y < py + 8)
        # A shield does not lie over the part that gets warm: what it hides shows nowhere.
        if not any(part.name in hot and part.place and (_under(part.place, x, y) & here).any() for part in parts):
            out[here] = 0.85
    for part in parts:
        if part.place is not None and chance.random() < 0.15:
            out[_under(part.place, x, y)] = chance.uniform(0.3, 0.8)
    return out, 1.0


def _mirrored(chance: np.random.Generator, there: bool) -> Array:
    """What the room adds where the board is a mirror: a hand or a lamp somewhere, a few kelvin. [K]"""
    v, u = np.mgrid[0:ROWS, 0:COLUMNS]
    if not there:
        return np.zeros((ROWS, COLUMNS))
    x, y, wide = chance.uniform(0, COLUMNS), chance.uniform(0, ROWS), chance.uniform(10, 35)
    return np.asarray(chance.uniform(3.0, 9.0) * np.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * wide**2)))
