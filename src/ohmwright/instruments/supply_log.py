"""A log of a supply that is on, by whoever only looks on: asked who it is, read, and left as it stands."""

from __future__ import annotations

import time

from ohmwright.circuit import Feed
from ohmwright.instruments.joined import joined_supply
from ohmwright.traces import SupplyTrace
from ohmwright.usecases.trace_supply import log_supply


def supply_log(address: str, feed: Feed, seconds: float) -> SupplyTrace:
    """A log of a supply that is on, as fast as it answers. [s]"""
    supply = joined_supply(address)
    try:
        return log_supply(supply, feed, seconds, time.monotonic)
    finally:
        supply.leave()
