"""How current spreads in copper: lattices, the four-point probe, an independent finite-element solution."""

import math

import numpy as np
import pytest
from benchmarks.copper_truth import Elements
from benchmarks.gradient import COPPERS
from scipy import sparse
from scipy.sparse.linalg import spsolve
from scipy.spatial import Delaunay

from ohmwright.errors import DataError
from ohmwright.facts import CopperShape, Gradient, GradientPoint, Run
from ohmwright.fields.layout import layout_of
from ohmwright.fields.network import Network
from ohmwright.fields.pointing import Bench
from ohmwright.fields.rectangle import RectangleSheet
from ohmwright.fields.sheet import inside, sheet_of
from ohmwright.fields.tracks import Tracks, chain


def lattice(n):
    node = np.arange(n * n).reshape(n, n)
    a = np.concatenate((node[:, :-1].ravel(), node[:-1].ravel()))
    b = np.concatenate((node[:, 1:].ravel(), node[1:].ravel()))
    return Network(n * n, a, b, np.ones(len(a)))


def test_lattice_of_resistors():
    """Centre of 51 by 51 nodes; computed with scipy.sparse, and near the infinite lattice of Atkinson and
    van Steenwijk, Am. J. Phys. 67 (1999) 486: 1/2, 2/pi, 4/pi - 1/2."""
    n, c = 51, 25
    net = lattice(n)
    into = np.zeros((n * n, 4))
    at = [c * n + c, c * n + c + 1, (c + 1) * n + c + 1, (c + 1) * n + c + 2]
    into[at, range(4)] = 1.0
    v = net.potentials(into)
    found = [v[at[0], 0] + v[at[k], k] - 2.0 * v[at[0], k] for k in (1, 2, 3)]
    assert found == pytest.approx([0.500210517, 0.637041586, 0.774295926], abs=1e-8)
    assert found == pytest.approx([0.5, 2 / math.pi, 4 / math.pi - 0.5], abs=2e-3)


def probe_factor(response, middle, along, s=1.0):
    """Correction C of an in-line four-point probe: sheet resistance over V / I."""
    places = np.array([np.array(middle) + np.array(along) * s * t for t in (-1.5, -0.5, 0.5, 1.5)])
    g = response(places)
    return 1.0 / ((g[0, 1] - g[3, 1]) - (g[0, 2] - g[3, 2]))


@pytest.mark.parametrize(
    ("a", "d", "printed"),
    [(3, 3, 2.4575), (4, 4, 3.1137), (5, 5, 3.5098), (10, 10, 4.2209), (40, 40, 4.5120), (6, 3, 2.7000),
     (10, 5, 3.5749), (30, 10, 4.2357), (20, 1, 0.9994), (20, 2, 1.9475)],
)  # fmt: skip
def test_four_point_probe_on_rectangles(a, d, printed):
    """Smits, BSTJ 37 (1958) 711, Table for rectangles; the print is off by up to 0.06 %."""
    sheet = RectangleSheet(0.0, 0.0, a, d, radius=1e-6)
    found = probe_factor(lambda p: sheet.response(p, p), (a / 2, d / 2), (1.0, 0.0))
    assert found == pytest.approx(printed, rel=1e-3)


def test_four_point_probe_on_a_circle_drawn_by_corners():
    """Smits: C = pi / (ln 2 + ln((d²/s² + 3) / (d²/s² - 3))); the grid stands for the circle to 1 %."""
    ring = [(50.0 + 50.0 * math.cos(t), 50.0 + 50.0 * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 120, False)]
    sheet = sheet_of(ring)
    s = 20.0
    found = probe_factor(lambda p: sheet.seen_from(p).response(p), (50.0, 50.0), (1.0, 0.0), s)
    ratio = (100.0 / s) ** 2
    assert found == pytest.approx(math.pi / (math.log(2) + math.log((ratio + 3) / (ratio - 3))), rel=0.01)


OUTLINE = ((0.0, 0.0), (80.0, 0.0), (80.0, 30.0), (40.0, 30.0), (40.0, 60.0), (0.0, 60.0))
HOLE = ((10.0, 10.0), (24.0, 10.0), (24.0, 24.0), (10.0, 24.0))


def finite_elements(source, sink, at):
    """Linear triangles on a mesh of our own, 0.5 mm: nothing is shared with the grid of conductances."""
    x, y = np.meshgrid(np.arange(0, 80.01, 0.5), np.arange(0, 60.01, 0.5))
    points = np.stack((x.ravel(), y.ravel()), axis=1)
    mesh = Delaunay(points + np.random.default_rng(3).normal(0, 1e-4, points.shape))
    middle = points[mesh.simplices].mean(axis=1)
    in_l = (middle[:, 0] < 40) | (middle[:, 1] < 30)
    in_hole = (middle > 10).all(axis=1) & (middle < 24).all(axis=1)
    triangles = mesh.simplices[in_l & ~in_hole]
    p, q, r = (points[triangles[:, k]] for k in range(3))
    turn = (q - p)[:, 0] * (r - p)[:, 1] - (q - p)[:, 1] * (r - p)[:, 0]
    keep = np.abs(turn) > 1e-6
    triangles, p, q, r, turn = triangles[keep], p[keep], q[keep], r[keep], turn[keep]
    edges = np.stack((r - q, p - r, q - p), axis=1)
    stiff = np.einsum("tid,tjd->tij", edges, edges) / (2.0 * np.abs(turn))[:, None, None]
    rows, columns = np.repeat(triangles, 3, axis=1).ravel(), np.tile(triangles, (1, 3)).ravel()
    k = sparse.csc_matrix((stiff.ravel(), (rows, columns)), shape=(len(points), len(points)))
    used = np.unique(triangles)
    near = [int(used[np.argmin(((points[used] - w) ** 2).sum(axis=1))]) for w in (source, sink, *at)]
    load = np.zeros(len(points))
    load[near[0]], load[near[1]] = 1.0, -1.0
    free = used[used != near[1]]
    v = np.zeros(len(points))
    v[free] = spsolve(k[free][:, free], load[free])
    return v[near[2:]]


def test_drawn_copper_against_finite_elements():
    source, sink = (70.0, 10.0), (20.0, 50.0)
    at = [(75.0, 25.0), (60.0, 20.0), (45.0, 15.0), (30.0, 15.0), (5.0, 5.0), (5.0, 30.0), (30.0, 35.0), (10.0, 55.0)]
    layout = layout_of(CopperShape(outline=OUTLINE, holes=(HOLE,)))
    rise = np.subtract(*layout.seen_from(np.array([source, sink])).response(np.array(at)))
    truth = finite_elements(source, sink, at)
    assert rise - rise[0] == pytest.approx(truth - truth[0], abs=0.02 * float(np.ptp(truth)))


@pytest.mark.parametrize("copper", COPPERS["drawn copper"], ids=["ell", "slanted", "slits", "neck", "frame"])
def test_drawn_copper_is_no_further_off_than_it_says(copper):
    """Against finite elements half as wide; away from the sink, where a pad and a point differ."""
    shape, chance = copper.shape, np.random.default_rng(5)
    real = Elements(shape.outline, shape.holes, 0.3)
    sinks, at = real.drawn(chance, 6), real.drawn(chance, 40)
    bench = read_at(copper, at)
    told = bench.fine(sinks)
    truth = np.array([real.volts(np.array(copper.source), sink, np.array([*at, copper.black])) for sink in sinks])
    far = (np.hypot(*(at[None] - sinks[:, None]).transpose(2, 0, 1)) > 1.5).T
    off, missed = told - (truth[:, :-1] - truth[:, -1:]).T, bench.missed(sinks)
    assert float(np.sqrt((off[far] ** 2).mean())) < 1.5 * float(np.sqrt(missed[far].mean())) + 0.002
    assert float(np.sqrt(missed[far].mean())) < 0.02 * float(np.ptp(truth))


def read_at(copper, at):
    """Readings of nothing at those points."""
    points = tuple(GradientPoint(float(x), float(y), 0.0) for x, y in at)
    gradient = Gradient("V12", copper.shape, copper.source, copper.current, points, copper.black, copper.step)
    return Bench(gradient, layout_of(copper.shape))


def test_behind_a_neck_without_a_current_the_grid_misses_nothing():
    """By hand: with both ends of the current on one side nothing flows on the other, and all of it is one level."""
    copper = COPPERS["drawn copper"][3]
    sinks, at = np.array([[17.0, 23.0], [6.0, 30.0]]), np.array([[50.0, 24.0], [73.0, 22.0], [26.0, 37.0]])
    bench = read_at(copper, at)
    assert np.abs(bench.fine(sinks)[:2]).max() < 1e-3
    assert np.sqrt(bench.missed(sinks))[:2].max() < 1e-3
    assert np.sqrt(bench.missed(sinks))[2].max() < 0.02


def test_a_slit_narrower_than_the_grid_parts_the_copper():
    """0.2 mm of slit at a pitch of 0.5 mm: by hand, the long way around, 50 mm of copper 10 mm wide on either side."""
    whole = ((0.0, 0.0), (70.0, 0.0), (70.0, 20.0), (0.0, 20.0))
    slit = (*whole, (0.0, 10.13), (60.0, 10.13), (60.0, 9.93), (0.0, 9.93))
    ends = np.array([(5.0, 5.0), (5.0, 15.0)])
    told = [sheet_of(one, nodes=5000).seen_from(ends).response(ends + 2.0) for one in (whole, slit)]
    over, around = (one[0, 0] - one[1, 0] - one[0, 1] + one[1, 1] for one in told)
    truth = Elements(slit, (), 0.25).volts(*ends, ends + 2.0)
    assert around == pytest.approx(truth[0] - truth[1], rel=0.02)
    assert around > over + 9.0


def test_rectangle_by_images_and_by_grid_agree():
    corners = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
    ends = np.array([(5.0, 5.0), (47.0, 29.0)])
    at = np.array([(20.0, 8.0), (30.0, 30.0), (55.0, 5.0), (8.0, 35.0)])
    images = np.subtract(*layout_of(CopperShape(outline=corners)).seen_from(ends).response(at))
    grid = np.subtract(*sheet_of(corners).seen_from(ends).response(at))
    assert grid - grid[0] == pytest.approx(images - images[0], abs=0.005)


def test_traces_are_squares_in_a_row():
    """By hand: on a tree a reading sees the squares that its way shares with that of the current."""
    tracks = Tracks.drawn((*chain([(0, 0), (60, 0), (60, 40)], 2.0), Run((30, 0), (30, 30), 0.5)))
    seen = tracks.seen_from(np.array([(0.0, 0.0), (30.0, 20.0)]))
    rise = np.subtract(*seen.response(np.array([(0.0, 0.0), (20.0, 0.0), (60.0, 40.0), (30.0, 10.0), (30.0, 30.0)])))
    assert rise[0] - rise == pytest.approx([0.0, 10.0, 15.0, 15.0 + 20.0, 15.0 + 40.0])


def test_a_ring_of_trace_parts_the_current():
    """Two ways of 10 and 30 squares in parallel: 7.5."""
    tracks = Tracks.drawn(chain([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]))
    ends = np.array([(0.0, 0.0), (10.0, 0.0)])
    rise = np.subtract(*tracks.seen_from(ends).response(ends))
    assert rise[0] - rise[1] == pytest.approx(7.5)


def test_traces_in_two_pieces_are_refused():
    with pytest.raises(DataError, match="hang together"):
        Tracks.drawn((Run((0, 0), (10, 0)), Run((20, 5), (30, 5))))


def test_a_hole_is_no_copper():
    told = inside(np.array([(17.0, 17.0), (30.0, 17.0), (60.0, 50.0)]), OUTLINE, (HOLE,))
    assert told.tolist() == [False, True, False]


@pytest.mark.parametrize(
    "wrong",
    [{}, {"outline": ((0.0, 0.0), (1.0, 1.0))}, {"runs": (Run((0, 0), (0, 0)),)},
     {"outline": OUTLINE, "square_ohms": 7.0},
     {"outline": ((0.0, 0.0), (float("nan"), 1.0), (2.0, 2.0))},
     {"outline": tuple((float(k), 0.0) for k in range(2000))}],
)  # fmt: skip
def test_copper_that_cannot_be_is_refused(wrong):
    with pytest.raises(DataError):
        CopperShape(**wrong)
