"""Serve the page: ``python -m ohmwright.web --help``."""

from __future__ import annotations

from ohmwright.web.loading import kept_for_good


def main() -> None:
    """Load what serves the page, and serve it."""
    with kept_for_good():
        from ohmwright.web.serve import main as serve
    serve()


if __name__ == "__main__":
    main()
