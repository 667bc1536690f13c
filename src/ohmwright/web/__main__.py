"""Serve the page: ``python -m ohmwright.web --help``."""

from __future__ import annotations

import gc


def main() -> None:
    """Load what serves the page, and serve it."""
    # Nothing loaded here is let go again: looking through it for rubbish again and again is a tenth of the start.
    gc.disable()
    from ohmwright.web.serve import main as serve

    gc.freeze()
    gc.enable()
    serve()


if __name__ == "__main__":
    main()
