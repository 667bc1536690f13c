"""``python -m ohmwright.kernels``: compile now what would be compiled beside the first case otherwise."""

import sys

from ohmwright.kernels.loading import awaited

# without it everything works, and slower
sys.exit(0 if awaited() else "going on without compiled code")
