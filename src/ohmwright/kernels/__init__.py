"""The innermost loops, compiled. Each has a twin in NumPy where it is used, which does the work until it is there."""

from ohmwright.kernels.loading import WITHOUT, Compiled, awaited, begin, left_out, ready

__all__ = ["WITHOUT", "Compiled", "awaited", "begin", "left_out", "ready"]
