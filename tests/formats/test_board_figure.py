"""The figure of a map: readable, well-formed, nothing by colour alone, labels that never lie on each other."""

import re
import xml.etree.ElementTree as ET

import pytest

from ohmwright.boardmap import Chart, placed_layer
from ohmwright.circuit import Board, Net, Part, Pin, Place
from ohmwright.facts import Facts, Look, LookFinding, Quantity, Reading
from ohmwright.formats.board_figure import Tile, figure_svg
from ohmwright.geometry import Pad

SVG = "{http://www.w3.org/2000/svg}"


def crowd(count):
    """Parts in rows, close together, on both sides."""
    parts, pads = [], []
    for n in range(count):
        side, x, y = ("top", "bottom")[n % 7 == 3], 4.0 + 2.5 * (n % 20), 4.0 + 2.2 * (n // 20)
        nets = ("GND", "V5" if n % 3 else "the C9.1 net")
        parts.append(
            Part(f"C{n}", "capacitor", (Pin("1", nets[0]), Pin("2", nets[1])), place=Place(x, y, side, 1.6, 0.8))
        )
        pads += [Pad(f"C{n}", str(k + 1), x + d, y, 0.6, 0.8, 15.0, side) for k, d in enumerate((-0.5, 0.5))]
    nets = (Net("GND"), Net("V5", 5.0, rail=True), Net("the C9.1 net"))
    board = Board("lamp <&>", "GND", nets, tuple(parts))
    chart = Chart()
    for side in ("top", "bottom"):
        chart = chart.with_layer(placed_layer(chart, side * 16, side, (1600, 1000)))
    return board, Chart(chart.layers, tuple(pads), "told")


def figure(board, chart, facts=None, sides=("top",), point=""):
    def tiles(layer):
        return [Tile(b"\xff\xd8", 0.0, 0.0, layer.width_px, layer.height_px)]

    return ET.fromstring(figure_svg(board.name, board, chart, facts or Facts(), tiles, sides, point))


def boxes(tree):
    """Where each label lies, by the width its letters have at the most."""
    found = []
    for node in tree.iter(f"{SVG}text"):
        if node.get("class") == "label":
            x, y, size = float(node.get("x")), float(node.get("y")), float(node.get("font-size"))
            half = 0.3 * size * len(node.text)
            found.append((x - half, y - size * 0.8, x + half, y + size * 0.2, node.text))
    return found


@pytest.mark.parametrize("sides", [("top",), ("bottom",), ("top", "bottom")])
def test_labels_never_lie_on_each_other_and_are_large_enough(sides):
    board, chart = crowd(120)
    readings = tuple(Reading(Quantity.OHMS, f"C{n}.2", "GND", 10.0 * n) for n in range(12))
    looks = (Look(("C5",), LookFinding.CRACK), Look(("C40",), LookFinding.BURN))
    tree = figure(board, chart, Facts(readings=readings, looks=looks), sides, "C5.1")
    found = boxes(tree)
    assert len(found) > (15 if sides == ("bottom",) else 30)
    for i, a in enumerate(found):
        for b in found[:i]:
            assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]), (a, b)
    sizes = [float(node.get("font-size")) for node in tree.iter(f"{SVG}text")]
    assert min(sizes) >= 13.0
    width, height = float(tree.get("width")), float(tree.get("height"))
    assert all(a[0] >= 0 and a[2] <= width and a[1] >= 0 and a[3] <= height for a in found)


def test_every_mark_stands_in_the_legend_with_a_shape():
    board, chart = crowd(40)
    looks = tuple(
        Look((f"C{n}",), finding) for n, finding in enumerate(LookFinding) if finding is not LookFinding.NOTHING
    )
    tree = figure(board, chart, Facts(looks=looks))
    words = [node.text for node in tree.iter(f"{SVG}text")]
    legend = next(word for word in words if word.startswith("red marks"))
    for finding in LookFinding:
        assert (finding.value in legend) == (finding is not LookFinding.NOTHING)
    shapes = {node.get("d") for node in tree.iter(f"{SVG}path") if node.get("transform")}
    assert len(shapes) == len(LookFinding) - 1 - sum(n % 7 == 3 for n in range(1, len(LookFinding)))


def test_the_bottom_is_drawn_as_it_is_seen_when_the_board_is_turned_over():
    """A pad on the left of the board, seen from the top, lies on the right of the underside."""
    board, chart = crowd(40)
    tree = figure(board, chart, sides=("bottom",))
    pads = [p for p in chart.pads if p.side == "bottom"]
    left = min(pads, key=lambda p: p.x_mm)
    xs = [float(point.split(",")[0]) for node in tree.iter(f"{SVG}polygon") for point in node.get("points").split()]
    drawn = [node.get("points") for node in tree.iter(f"{SVG}polygon")][2 * pads.index(left)]
    assert max(float(p.split(",")[0]) for p in drawn.split()) == pytest.approx(max(xs), abs=0.2)


def test_an_empty_map_is_a_figure_too():
    board = Board("x", "GND", (Net("GND"),), ())
    tree = figure(board, Chart())
    assert tree.tag == f"{SVG}svg"
    assert not re.search("nan|inf", ET.tostring(tree, encoding="unicode"))
