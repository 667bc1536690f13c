"""Parts laid by two clicks, held against where the package generator puts the same pads."""

import math

import pytest

from ohmwright.boardmap import Chart, far_land, mirrored, placed_layer, seated, seated_pair, shifted
from ohmwright.circuit import Part, Pin, Place
from ohmwright.errors import DataError
from ohmwright.geometry import (
    Outline,
    PicturePoint,
    land_pattern,
    pad_centres,
    part_pattern,
    scan_view,
)  # fmt: skip

OUTLINE = Outline(0.0, 0.0, 60.0, 40.0)
PX_PER_MM = 20.0
PACKAGES = (("SOIC-8", 8), ("QFN-32", 32), ("DFN-8", 8), ("SOT-23-5", 5), ("LQFP-48", 48), ("TSSOP-20", 20))


def scanned(side):
    """A layer whose millimetres are those of the board, from the exact view of a scan."""
    view = scan_view(OUTLINE, side, PX_PER_MM)
    chart = Chart()
    layer = placed_layer(chart, "0" * 64, side, (1200, 800))
    return view, layer, 60.0 / (layer.mm_per_px * 1200)


@pytest.mark.parametrize("side", ["top", "bottom"])
@pytest.mark.parametrize("angle", [0.0, 90.0, 33.0, -120.0])
@pytest.mark.parametrize(("package", "count"), PACKAGES)
def test_pins_lie_where_the_package_has_them(package, count, angle, side):
    """The oracle is `pad_centres`, which has nothing to do with clicks; the bottom is mirrored in both."""
    numbers = [land.number for land in land_pattern(package, [str(n + 1) for n in range(count)]).lands]
    place = Place(23.0, 17.0, side, 5.0, 5.0, angle)
    part = Part("U1", "ic", tuple(Pin(n) for n in numbers), package=package, place=place)
    truth = {pad.pin: pad for pad in pad_centres(part)}
    view, layer, grown = scanned(side)
    pattern = part_pattern(part)
    first, far = (view.picture_point(truth[land.number].centre) for land in far_land(pattern))
    seating = seated("U1", pattern, layer, first, far)
    assert {pad.pin for pad in seating.pads} == set(truth)
    for pad in seating.pads:
        wanted, spot = view.picture_point(truth[pad.pin].centre), layer.to_board.inverse.at(pad.x_mm, pad.y_mm)
        assert math.hypot(spot[0] - wanted.x_px, spot[1] - wanted.y_px) < 1e-6
        assert pad.width_mm * grown == pytest.approx(truth[pad.pin].width_mm)
        turned = (pad.angle_deg - truth[pad.pin].angle_deg + 90.0) % 180.0 - 90.0
        assert turned == pytest.approx(0.0, abs=1e-6)
    assert seating.mm_per_px == pytest.approx(1.0 / PX_PER_MM)


def test_a_pair_lies_on_its_clicks():
    _, layer, _ = scanned("top")
    one, two = PicturePoint(100.0, 200.0), PicturePoint(130.0, 240.0)
    seating = seated_pair("C1", layer, one, two)
    for pad, spot in zip(seating.pads, (one, two), strict=True):
        assert layer.to_board.at(spot.x_px, spot.y_px) == pytest.approx((pad.x_mm, pad.y_mm))
    assert seating.mm_per_px == 0.0
    with pytest.raises(DataError, match="one spot"):
        seated_pair("C1", layer, one, PicturePoint(101.0, 200.5))


def test_a_part_turned_round_comes_back():
    _, layer, _ = scanned("bottom")
    pattern = land_pattern("SOIC-8", [str(n + 1) for n in range(8)])
    start = seated("U1", pattern, layer, PicturePoint(300.0, 300.0), PicturePoint(420.0, 380.0))
    now = start
    for _ in range(4):
        now = shifted(now.place, now.pads, 0.5, -0.25, 90.0)
    now = shifted(now.place, now.pads, -2.0, 1.0, 0.0)
    for before, after in zip(start.pads, now.pads, strict=True):
        assert (after.x_mm, after.y_mm) == pytest.approx((before.x_mm, before.y_mm))


@pytest.mark.parametrize("side", ["top", "bottom"])
@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
def test_a_mirrored_part_has_its_pins_the_other_way_round(side, turn):
    """Pins of a dual row are numbered around it (IPC-7351, JEDEC): mirrored, pin 1 lies where pin 8 was."""
    _, layer, _ = scanned(side)
    pattern = land_pattern("SOIC-8", [str(n + 1) for n in range(8)])
    start = seated("U1", pattern, layer, PicturePoint(300.0, 300.0), PicturePoint(420.0, 380.0))
    start = shifted(start.place, start.pads, 0.0, 0.0, turn)
    now = mirrored(start.place, start.pads)
    was = {pad.pin: (pad.x_mm, pad.y_mm) for pad in start.pads}
    for pad in now.pads:
        assert (pad.x_mm, pad.y_mm) == pytest.approx(was[str(9 - int(pad.pin))])
    for before, after in zip(start.pads, mirrored(now.place, now.pads).pads, strict=True):
        assert (after.x_mm, after.y_mm) == pytest.approx((before.x_mm, before.y_mm))


def test_a_new_scale_moves_nothing_on_the_picture():
    _, layer, _ = scanned("bottom")
    seating = seated_pair("C1", layer, PicturePoint(10.0, 20.0), PicturePoint(50.0, 20.0))
    chart = Chart().with_layer(layer).with_pads("C1", seating.pads).scaled(0.37, "told")
    for old, new in zip(seating.pads, chart.pads, strict=True):
        assert chart.layers[0].to_board.inverse.at(new.x_mm, new.y_mm) == pytest.approx(
            layer.to_board.inverse.at(old.x_mm, old.y_mm)
        )
    assert chart.layers[0].mm_per_px == pytest.approx(0.37 * layer.mm_per_px)


def test_both_sides_lie_edge_on_edge():
    """A finger at the left edge from above is at the right edge from below."""
    chart = Chart().with_layer(placed_layer(Chart(), "a" * 64, "top", (1000, 700)))
    under = placed_layer(chart, "b" * 64, "bottom", (500, 350))
    left, right = under.to_board.at(-0.5, 0.0)[0], under.to_board.at(499.5, 0.0)[0]
    top = chart.layers[0].to_board
    assert left == pytest.approx(top.at(999.5, 0.0)[0], abs=under.mm_per_px)
    assert right == pytest.approx(top.at(-0.5, 0.0)[0], abs=under.mm_per_px)
