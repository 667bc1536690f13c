"""Events of what was measured over the face of the board: millivolts along its copper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ohmwright.circuit import Feed
from ohmwright.facts.gradient import Gradient


@dataclass(frozen=True, slots=True)
class GradientRecorded:
    """Millivolts were read along copper that carried a known current.

    Parameters
    ----------
    measured : Gradient
        Its state and key are those of its place in the case; what is written there does not count.
    feed : Feed or None
        The feed it was read under, where that has ended since: a guard ends every feed.
    """

    kind: ClassVar[str] = "gradient-recorded"
    version: ClassVar[int] = 2
    measured: Gradient
    feed: Feed | None = None
