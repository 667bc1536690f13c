"""Serve the page: ``python -m ohmwright.web --help``."""

from ohmwright.web.serve import main

if __name__ == "__main__":
    main()
