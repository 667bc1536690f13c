"""``python -m ohmwright.cli``."""

from ohmwright.cli.run import main

main()
