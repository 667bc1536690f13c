"""Every circuit is solved twice: by compiled code and by its twin in NumPy."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ohmwright import kernels


@pytest.fixture(autouse=True, params=["compiled", "numpy"])
def way(request: pytest.FixtureRequest) -> Iterator[str]:
    """By which of both the test goes."""
    assert kernels.ready() is not None
    if request.param == "compiled":
        yield "compiled"
        return
    with kernels.left_out():
        yield "numpy"
