"""The potential on an even rectangular sheet, insulated all round, by images summed in closed form.

A point source in a rectangle is a doubly periodic array of images of one sign. Each row of them has the
closed form -1/(4 pi) ln(2 cosh u - 2 cos v); what grows with distance is the flow along the sheet in one
dimension and is summed exactly; what is left falls like exp(-2 pi b / a), so two rows to either side leave
4e-6 squares where b >= a. (Images: Smits, BSTJ 37 (1958) 711; rows: the product for the sine.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ROWS = 2


@dataclass(frozen=True, slots=True)
class RectangleSheet:
    """An even sheet from (left, top), so wide and so high. [mm]"""

    left: float
    top: float
    width: float
    height: float
    radius: float = 0.1
    """Contacts are no smaller than this: nearer than that the potential does not rise further. [mm]"""

    def response(self, a: Array, b: Array) -> Array:
        """Potential at b for a unit current in at a and out evenly, in squares, shape (n_a, n_b).

        Parameters
        ----------
        a, b : ndarray, shape (n, 2)
            Points. [mm]
        """
        across, along = (0, 1) if self.height >= self.width else (1, 0)
        origin, size = (self.left, self.top), (self.width, self.height)
        w, h = size[across], size[along]
        x0, x1 = a[:, None, across] - origin[across], b[None, :, across] - origin[across]
        y0, y1 = a[:, None, along] - origin[along], b[None, :, along] - origin[along]
        y0, y1 = np.clip(y0, 0.0, h), np.clip(y1, 0.0, h)
        x0, x1 = np.clip(x0, 0.0, w), np.clip(x1, 0.0, w)
        total = ((y0**2 + y1**2) / (2.0 * h) - np.maximum(y0, y1) + h / 3.0) / w
        least = (math.pi * self.radius / w) ** 2
        wide = [4.0 * np.sin((x1 - image) * (math.pi / (2.0 * w))) ** 2 for image in (x0, -x0)]
        product = np.ones_like(total)
        for row in range(-ROWS, ROWS + 1):
            for y_image in (2.0 * h * row + y0, 2.0 * h * row - y0):
                fall = np.exp(-np.abs(y1 - y_image) * (math.pi / w))
                for sine in wide:
                    # 1 - 2 q cos v + q^2, written so that it keeps its figures near the source
                    product *= np.maximum((1.0 - fall) ** 2 + fall * sine, least)
        return np.asarray(total - np.log(product) / (4.0 * math.pi))
