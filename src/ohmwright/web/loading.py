"""Loading much at once."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def kept_for_good() -> Iterator[None]:
    """What is loaded inside is never let go of again, and is never looked through for what could be.

    Python looks for that some three hundred times while the page is loaded, each time through more: a tenth of the
    start. What is set apart is left out later as well (Python documentation, ``gc.freeze``).
    """
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()
