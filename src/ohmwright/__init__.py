"""ohmwright finds the failed part on a circuit board that has no schematic."""

__version__ = "0.1.0"
