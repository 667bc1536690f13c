"""The command line: a thin door over the use cases."""

from ohmwright.cli.run import main

__all__ = ["main"]
