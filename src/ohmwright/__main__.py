"""``python -m ohmwright``."""

from ohmwright.cli.run import main

main()
