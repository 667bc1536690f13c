"""Two pads of no known size that may lie wrong are doubted; those that every size finds alike are not."""

from dataclasses import dataclass

import pytest

from ohmwright.geometry import Homography, similarity
from ohmwright.usecases.lay_parts import PAIR_SIZES, pair_of_some_size

CLICKED = similarity(40.0, 20.0, 300.0, 200.0)


@dataclass(frozen=True)
class Found:
    on_picture: Homography
    score: float
    doubt: str = ""
    moved_mm: float = 0.0


def laid_of(*found):
    """What the picture shows from each of the sizes, in their order."""
    assert len(found) == len(PAIR_SIZES)
    rest = iter(found)
    return pair_of_some_size(lambda _: next(rest), CLICKED)


def by(scale=1.0, x=0.0):
    return CLICKED.after(similarity(scale, 0.0, x, 0.0))


def test_sizes_that_find_one_place_leave_no_doubt():
    found = laid_of(Found(by(), 0.8), Found(by(1.02), 0.8), Found(by(0.99, 0.1), 0.7))
    assert not found.doubt


@pytest.mark.parametrize(("score", "doubted"), [(0.78, True), (0.5, False)])
def test_another_place_that_fits_about_as_well_is_a_doubt(score, doubted):
    found = laid_of(Found(by(), 0.8), Found(by(1.0, 0.8), score), Found(by(), 0.5))
    assert found.on_picture == by()
    assert ("two places" in found.doubt) is doubted


@pytest.mark.parametrize(("scale", "doubted"), [(0.4, True), (0.8, False), (1.2, False), (1.8, True)])
def test_pads_found_much_nearer_or_farther_apart_than_clicked_are_a_doubt(scale, doubted):
    found = laid_of(*[Found(by(scale), 0.8)] * 3)
    assert found.on_picture == by(scale)
    assert ("far apart" in found.doubt) is doubted
