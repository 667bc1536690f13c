"""The innermost loops, compiled. Every one of them has a twin in NumPy where it is used, which does until it is there."""

from ohmwright.kernels.loading import WITHOUT, Compiled, awaited, begin, ready

__all__ = ["WITHOUT", "Compiled", "awaited", "begin", "ready"]
