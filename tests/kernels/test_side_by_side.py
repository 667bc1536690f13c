"""Work in parts, on several processors or on one."""

from __future__ import annotations

import numpy as np
import pytest

from ohmwright.kernels import side_by_side
from ohmwright.kernels.side_by_side import in_parts


@pytest.mark.parametrize("processors", [1, 2, 4])
@pytest.mark.parametrize("n", [0, 1, 15, 16, 17, 1000])
def test_every_item_is_done_once(monkeypatch: pytest.MonkeyPatch, n: int, processors: int) -> None:
    monkeypatch.setattr(side_by_side, "processors", lambda: processors)
    done = np.zeros(n, dtype=int)

    def work(part: slice) -> None:
        done[part] += 1

    in_parts(n, work)
    assert (done == 1).all()


def test_what_fails_in_a_part_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(side_by_side, "processors", lambda: 2)

    def work(part: slice) -> None:
        if part.stop == 100:
            raise ArithmeticError("the second half")

    with pytest.raises(ArithmeticError, match="second half"):
        in_parts(100, work)
