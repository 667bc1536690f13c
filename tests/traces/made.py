"""Supply traces made by arithmetic, the truth known."""

import numpy as np

from ohmwright.traces import SupplyTrace, trace_of


def made(pieces, rate=20.0, noise=0.0008, step=1e-3, volts=19.5, limit=1.0, seed=0) -> SupplyTrace:
    """Pieces of (seconds, amps or a function of the time since the piece began)."""
    rng = np.random.default_rng(seed)
    length = sum(s for s, _ in pieces)
    times = np.arange(0.0, length, 1.0 / rate) + rng.uniform(0, 0.05 / rate)
    amps, start = np.zeros_like(times), 0.0
    for seconds, level in pieces:
        here = (times >= start) & (times < start + seconds + 1e-9)
        amps[here] = level(times[here] - start) if callable(level) else level
        start += seconds
    amps = amps + rng.normal(0, noise, times.size)
    amps = np.clip(np.round(amps / step) * step, 0, limit)
    shown = np.where(amps >= 0.97 * limit, volts * 0.3, volts)
    return trace_of(times, amps, shown, volts, limit, step)
