"""``python -m ohmwright.kernels``: compile now what would be compiled beside the first case otherwise.

With ``--beside`` it gives way to everything else on the machine, and does nothing where it was compiled meanwhile.
"""

import os
import sys
from pathlib import Path

from ohmwright.kernels.loading import WITHOUT, compiled_before, load_here, ready

try:
    import fcntl
except ImportError:  # not on Windows: there two programs may compile at once, and the last one's is kept
    fcntl = None  # type: ignore[assignment]  # the module is there or it is not

HERE = Path(__file__).parent


def main(beside: bool) -> int:
    """Compile; the state is 0 where the code is there."""
    if os.environ.get(WITHOUT):
        return 1
    with Path(HERE / "loading.py").open("rb") as one_at_a_time:
        if fcntl is not None:
            fcntl.flock(one_at_a_time, fcntl.LOCK_EX)
        if beside:
            if compiled_before():
                return 0
            if hasattr(os, "nice"):
                os.nice(10)
        # what was compiled before is found again by the age of its own file, not of those it calls
        for kept in (HERE / "__pycache__").glob("*.nb[ic]"):
            kept.unlink(missing_ok=True)
        load_here()
    return 0 if ready() else 1


if __name__ == "__main__":
    state = main("--beside" in sys.argv[1:])
    # without it everything works, and slower
    sys.exit("going on without compiled code" if state else 0)
