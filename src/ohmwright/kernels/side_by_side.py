"""Compiled work that falls into parts, done on several processors at once."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise

MOST = 4
"""Processors used at most: beyond that the parts are too small to pay. [1]"""
WORTH = 8
"""Items of one part at least. [1]"""


@cache
def _pool() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(processors(), thread_name_prefix="compiled")


def processors() -> int:
    """How many this process may use, at most `MOST`. [1]"""
    return min(len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1, MOST)


def in_parts(n: int, work: Callable[[slice], None]) -> None:
    """Do the work on all of n items, part by part; the parts must have nothing to do with each other.

    Compiled code lets go of the interpreter's lock, so the parts run beside each other. What comes of each is the same
    as alone.

    Parameters
    ----------
    n : int
    work : callable
        What is done with a slice of the items.
    """
    parts = max(1, min(processors(), n // WORTH))
    cuts = [n * k // parts for k in range(parts + 1)]
    slices = [slice(a, b) for a, b in pairwise(cuts)]
    if parts == 1:
        work(slices[0])
        return
    for one in [_pool().submit(work, part) for part in slices]:
        one.result()
