"""Events of what was measured over the face of the board: millivolts along its copper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ohmwright.facts.gradient import Gradient


@dataclass(frozen=True, slots=True)
class GradientRecorded:
    """Millivolts were read along copper that carried a known current.

    Parameters
    ----------
    measured : Gradient
        Its state and key are those of its place in the case; what is written there does not count.
    """

    kind: ClassVar[str] = "gradient-recorded"
    version: ClassVar[int] = 1
    measured: Gradient
