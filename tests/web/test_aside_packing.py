"""What is sent to the other process may be given worked-out values by another thread while it is packed."""

import pickle

import pytest

from ohmwright.web.aside import ATTEMPTS, _packed


class Changing:
    """Says, as a dictionary does that grows while it is gone through, that it changed; a few times."""

    def __init__(self, times: int) -> None:
        self.times = times

    def __reduce__(self) -> tuple[type[int], tuple[int]]:
        if self.times:
            self.times -= 1
            raise RuntimeError("dictionary changed size during iteration")
        return int, (7,)


def test_what_changes_while_it_is_packed_is_packed_again() -> None:
    assert pickle.loads(_packed(Changing(3))) == 7


def test_what_never_holds_still_is_an_error() -> None:
    with pytest.raises(RuntimeError, match="changed size"):
        _packed(Changing(ATTEMPTS))
