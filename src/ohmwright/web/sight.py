"""The pictures of the board, rendered while the page already shows a drawing."""

from __future__ import annotations

import threading
from typing import Any

from ohmwright.bootstrap import SidePicture, board_picture_sides, pad_places
from ohmwright.usecases.desk import CaseView
from ohmwright.web.aside import Aside


class Sight:
    """Both sides of a board, and where its pads are; the renderer works in a thread of its own."""

    def __init__(self, view: CaseView) -> None:
        self._board = view.board
        self._points = [
            {"name": f"{pad.part}.{pad.pin}", "x": pad.x_mm, "y": pad.y_mm, "side": pad.side,
             "width": pad.width_mm, "height": pad.height_mm}
            for pad in pad_places(view.board)
        ]  # fmt: skip
        self._images: dict[str, bytes] = {}
        self._frames: dict[str, dict[str, Any]] = {}
        threading.Thread(target=self._render, name="rendering", daemon=True).start()

    def sides(self) -> tuple[str, ...]:
        """The sides that are ready."""
        return tuple(self._images)

    def image(self, side: str) -> bytes:
        """The picture of a side, JPEG."""
        return self._images[side]

    def plain(self) -> dict[str, Any]:
        """Pads in board millimetres, and for each picture that is ready the part of the board it shows. [mm]"""
        return {"points": self._points, "sides": [self._frames[side] for side in self._images]}

    def _render(self) -> None:
        painter = Aside()
        try:
            pictures = painter.do(_painted, self._board)
        except EOFError:
            return
        finally:
            painter.close()
        for side, picture in pictures:
            self._frames[side] = {
                "side": side, "x": picture.x_mm, "y": picture.y_mm, "width": picture.width_mm,
                "height": picture.height_mm,
            }  # fmt: skip
            self._images[side] = picture.jpeg


def _painted(board: Any) -> list[tuple[str, SidePicture]]:
    return list(board_picture_sides(board))
