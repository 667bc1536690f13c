"""A display that the user has told of: what is learnt is read again, what nobody told is asked, a slip teaches nothing.

Rendered displays; the truth is what was drawn. `benchmarks/sittings.py` is the judging.
"""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.sittings import one_sitting
from tests.displays.rendered import Light, Panel, Shown, drawn, photographed

from ohmwright.errors import DataError
from ohmwright.pictures.display.composed import LIT, composed
from ohmwright.pictures.display.eye import DisplayEye
from ohmwright.pictures.display.telling import told

ROOM = Light(contrast=0.6, bright=0.7, slope=0.2, wide_px=420, blur_px=0.9, noise=0.012)
ODD = Panel(dots="C", dark_on_light=True, slant_deg=0.0, face=0, places=4)
"""5 by 7 dots of a make that the reader was not trained on: an eight like a cross."""


class Camera:
    """One display before one camera; the corners as they were marked first."""

    def __init__(self, look: Panel, seed: int = 1) -> None:
        self.eye, self._look, self._rng = DisplayEye(), look, np.random.default_rng(seed)
        self._marked = None
        self._at = 0.0

    def sees(self, shown: Shown, how: Light = ROOM, older: Shown | None = None, pictures: int = 4):
        """What is believed after some pictures of it, in figures."""
        self.eye.turn()
        said = None
        for _ in range(pictures):
            before = None if older is None else drawn(self._look, older)
            picture, corners = photographed(drawn(self._look, shown), self._look, how, self._rng, before)
            self._marked = corners if self._marked is None else self._marked
            self._at += 0.2
            looked = self.eye.look_at(picture, self._marked, self._at)
            said = looked.believed.text if looked.believed is not None else said
        return said

    def told(self, *texts: str, unit: str = "V", as_if: dict[str, str] | None = None) -> None:
        for text in texts:
            self.sees(Shown(text, unit, ("DC",)), pictures=1)
            self.eye.shows((as_if or {}).get(text, text), unit, ())


LESSONS = ("1.234", "5.678", "9.012", "3.456", "7.890", "2.468", "1.357", "8.024", "6.913")


@pytest.mark.parametrize("look", [ODD, replace(ODD, dots="", stroke=0.12, ends="round"), replace(ODD, dots="T")])
def test_what_was_told_is_read_again(look):
    camera = Camera(look)
    camera.told(*LESSONS)
    for text in ("4.071", "88.31", "0.529", "607.4"):
        assert camera.sees(Shown(text, "V", ("DC",))) == f"{text} V"


def test_a_figure_nobody_told_is_asked():
    camera = Camera(ODD)
    camera.told("1.234", "5.679", "9.012", "3.456", "7.190", "2.460")
    assert camera.sees(Shown("1.264", "V", ("DC",))) == "1.264 V"
    for text in ("1.284", "8.888", "5.608"):
        assert camera.sees(Shown(text, "V", ("DC",))) is None


def test_a_unit_nobody_told_is_not_taken_for_its_likeness():
    camera = Camera(ODD)
    camera.told(*LESSONS, unit="kΩ")
    assert camera.sees(Shown("4.071", "kΩ", ("DC",))) == "4.071 kΩ"
    for unit in ("MΩ", "Ω"):
        assert camera.sees(Shown("4.071", unit, ("DC",))) in (None, f"4.071 {unit}")


def test_a_minus_and_a_hold_nobody_told_are_not_overlooked():
    camera = Camera(ODD)
    camera.told(*LESSONS)
    assert camera.sees(Shown("-4.07", "V", ("DC",))) in (None, "-4.07 V")
    camera.sees(Shown("4.071", "V", ("DC", "HOLD")))
    seen = camera.eye.now(camera._at)
    assert seen is None or seen.held


def test_one_slip_of_the_typing_hand_teaches_nothing_wrong():
    camera = Camera(ODD)
    camera.told(*LESSONS, as_if={"9.012": "9.072"})
    for text in ("1.101", "4.071"):
        assert camera.sees(Shown(text, "V", ("DC",))) in (None, f"{text} V")


@pytest.mark.parametrize("share", [0.4, 0.5, 0.6])
def test_two_values_over_each_other_are_asked(share):
    camera = Camera(ODD)
    camera.told(*LESSONS)
    how = replace(ROOM, old=share)
    assert camera.sees(Shown("1.234", "V", ("DC",)), how, Shown("5.678", "V", ("DC",))) is None


def test_white_light_over_a_figure_is_asked_or_right():
    camera = Camera(ODD)
    camera.told(*LESSONS)
    for x in (0.2, 0.35, 0.5, 0.65):
        how = replace(ROOM, glare=1.6, glare_at=(x, 0.6), glare_size=0.15)
        assert camera.sees(Shown("8.063", "V", ("DC",)), how) in (None, "8.063 V")


def test_a_knocked_camera_is_asked_or_right():
    camera = Camera(ODD)
    camera.told(*LESSONS)
    rng = np.random.default_rng(3)
    for size in (0.005, 0.01, 0.02, 0.04):
        how = replace(ROOM, tilt=tuple(rng.normal(0, size, 8)), turn=float(rng.normal(0, 100 * size)))
        assert camera.sees(Shown("8.063", "V", ("DC",)), how) in (None, "8.063 V")


def test_what_the_user_says_is_believed_until_something_moves():
    camera = Camera(ODD)
    calm = replace(ROOM, noise=0.004)
    assert camera.sees(Shown("8.063", "V", ("DC",)), calm) is None
    camera.eye.pin()
    camera.eye.shows("8.063", "V", ())
    picture = Shown("8.063", "V", ("DC",))
    camera.eye.turn = lambda: None  # the display goes on showing the same
    assert camera.sees(picture, calm) == "8.063 V"
    assert camera.eye.now(camera._at) is not None
    camera.sees(Shown("8.068", "V", ("DC",)), calm)
    assert camera.eye.now(camera._at) is None


def test_a_hand_before_the_camera_forgets_nothing_that_was_told():
    """Nothing is believed of the pictures with the hand in them, and all of it again once it is gone."""
    camera, calm, shown = Camera(ODD), replace(ROOM, noise=0.004), Shown("8.063", "V", ("DC",))
    camera.sees(shown, calm)
    camera.eye.shows("8.063", "V", ())
    camera.eye.turn = lambda: None
    picture, _ = photographed(drawn(ODD, shown), ODD, calm, np.random.default_rng(2))
    hidden = picture.copy()
    hidden[:, : picture.shape[1] // 2] = 25
    for at, seen, believed in ((1.0, hidden, None), (1.2, picture, "8.063 V"), (1.4, hidden, None)):
        looked = camera.eye.look_at(seen, camera._marked, at)
        assert (looked.believed.text if looked.believed else None) == believed
    for k in range(8):
        camera.eye.look_at(hidden, camera._marked, 1.6 + 0.2 * k)
    assert camera.eye.look_at(picture, camera._marked, 4.0).believed is None  # so long is no hand that passes


@pytest.mark.parametrize("bad", [("1.2.3", "V"), ("", "V"), ("12", "furlong"), ("12e3", "V"), ("--1", "V")])
def test_what_no_display_shows_is_refused(bad):
    camera = Camera(ODD)
    camera.sees(Shown("1.234", "V"), pictures=1)
    with pytest.raises(DataError, match="No display shows"):
        camera.eye.shows(bad[0], bad[1], ())


def test_nothing_is_told_before_a_picture_was_seen():
    with pytest.raises(DataError, match="No picture"):
        DisplayEye().shows("1.234", "V", ())


def test_figures_are_put_together_from_those_that_were_met():
    """Eight is nine and six less the five they share: with stand-in pictures of one pixel for each segment."""
    pictures = {s: np.array([[float(x in lit) for x in "abcdefg"]], np.float32) for s, lit in LIT.items() if s in "569"}
    made = composed(pictures)
    assert np.allclose(made["8"], 1.0, atol=1e-5)
    assert set(made) >= set(pictures)
    assert "1" not in made


def test_halfway_between_two_is_neither():
    a, b = np.zeros((12, 12), np.float32), np.zeros((12, 12), np.float32)
    a[2:10, 2:4], b[2:10, 2:4], b[2:10, 8:10] = 1.0, 1.0, 1.0
    nothing = np.zeros((14, 14), np.float32)
    for share, says in ((0.0, "a"), (0.2, "a"), (0.5, ""), (0.8, "b"), (1.0, "b")):
        seen = np.pad((1 - share) * a + share * b, 1)
        assert told(seen, nothing, {"a": a, "b": b}, 1, 3).says == says


@pytest.mark.slow
def test_no_wrong_answer_in_a_sitting_of_the_other_family():
    results, _, wrong = one_sitting(2_000_001, "middling", apart=True)
    assert wrong == []
    assert results[20:].count("read") >= 10
