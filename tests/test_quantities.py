"""Numbers as written at the bench."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ohmwright.errors import ReadingError
from ohmwright.quantities import Interval, format_quantity, is_overload, parse_quantity


@pytest.mark.parametrize(
    ("text", "value"),
    # resistance codes of IEC 60062, clause 4 (from memory)
    [("R10", 0.1), ("R332", 0.332), ("1R0", 1.0), ("3R32", 3.32), ("10R", 10.0), ("59R04", 59.04), ("100R", 100.0),
     ("1K0", 1e3), ("3K32", 3320.0), ("10K", 1e4), ("1M0", 1e6), ("3M32", 3.32e6), ("1G0", 1e9)],
)  # fmt: skip
def test_letter_for_the_decimal_point(text: str, value: float) -> None:
    assert parse_quantity(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["", "R", "4k7k", "4.7k7", "1e3", "nan", "inf", "--1", "1 2", "4k7; rm"])
def test_what_is_no_number_is_refused_with_a_hint(text: str) -> None:
    with pytest.raises(ReadingError) as caught:
        parse_quantity(text)
    assert caught.value.hint


@given(st.floats(1e-11, 9e11), st.sampled_from([1, -1]))
def test_what_is_written_reads_back(size: float, sign: int) -> None:
    assert parse_quantity(format_quantity(sign * size, digits=9)) == pytest.approx(sign * size, rel=1e-7)


@given(st.text(max_size=12))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        value = parse_quantity(text)
    except ReadingError:
        return
    assert abs(value) < float("inf")


def test_overload_is_a_word_and_a_number_is_not() -> None:
    assert is_overload(" OL ")
    assert not is_overload("0.425")


def test_interval_is_closed() -> None:
    assert 1.0 in Interval(1.0, 2.0)
    assert 2.1 not in Interval(1.0, 2.0)


@pytest.mark.parametrize(
    ("value", "digits", "said"), [(0.45, 2, "450 mΩ"), (0.999, 2, "1 Ω"), (123.4, 1, "100 Ω"), (4.7e5, 3, "470 kΩ")]
)
def test_few_digits_are_written_out(value, digits, said):
    assert format_quantity(value, "Ω", digits) == said
