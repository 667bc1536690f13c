"""A writer of plain PDF files, kept apart from the reader: text in Helvetica, lines, filled boxes, one picture."""

from __future__ import annotations

import zlib
from pathlib import Path

WIDTH, HEIGHT = 595.0, 842.0
_WIDTHS = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, *([556] * 10), 278, 278, 584, 584,
    584,
    556, 1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722,
    667,
    944, 667, 667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833,
    556,
    556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
]  # fmt: skip
"""Advance widths of Helvetica for the characters 32 to 126 (Adobe's metrics of the 14 standard fonts; from memory)."""


def width_of(text: str, size: float, bold: bool = False) -> float:
    widths = (_WIDTHS[ord(c) - 32] if 32 <= ord(c) < 127 else 556 for c in text)
    return sum(widths) * size / 1000.0 * (1.06 if bold else 1.0)


def wrapped(text: str, size: float, width: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        if lines and width_of(f"{lines[-1]} {word}", size) <= width:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines or [""]


class Page:
    """Positions are from the top left corner, y down, in points."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.pictures: list[tuple[bytes, int, int, str]] = []

    def text(
        self, x: float, y: float, text: str, size: float = 9.0, *, bold: bool = False, align: str = "left"
    ) -> None:
        if align == "centre":
            x -= width_of(text, size, bold) / 2.0
        if align == "right":
            x -= width_of(text, size, bold)
        raw = (
            text.replace("µ", "\\265")
            .replace("Ω", "Ohm")
            .replace("–", "\\226")
            .replace("±", "\\261")
            .replace("°", "\\260")
        )
        raw = raw.replace("(", "\\(").replace(")", "\\)")
        self.parts.append(f"BT /F{2 if bold else 1} {size:g} Tf {x:.2f} {HEIGHT - y:.2f} Td ({raw}) Tj ET")

    def line(self, x0: float, y0: float, x1: float, y1: float, width: float = 0.6) -> None:
        self.parts.append(f"{width:g} w {x0:.2f} {HEIGHT - y0:.2f} m {x1:.2f} {HEIGHT - y1:.2f} l S")

    def box(self, x0: float, y0: float, x1: float, y1: float, grey: float | None = None) -> None:
        ink = f"{grey:g} g" if grey is not None else ""
        close = "f 0 g" if grey is not None else "S"
        self.parts.append(f"{ink} {x0:.2f} {HEIGHT - y1:.2f} {x1 - x0:.2f} {y1 - y0:.2f} re {close}")

    def picture(self, x: float, y: float, width: float, height: float, grey: bytes, columns: int, rows: int) -> None:
        name = f"P{len(self.pictures)}"
        self.pictures.append((zlib.compress(grey), columns, rows, name))
        self.parts.append(f"q {width:g} 0 0 {height:g} {x:g} {HEIGHT - y - height:g} cm /{name} Do Q")


def write_pdf(path: Path, pages: list[Page]) -> Path:
    objects: list[bytes] = [b"<< /Type /Catalog /Pages 2 0 R >>", b""]
    objects += [
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>",
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica-Bold /Encoding /WinAnsiEncoding >>",
    ]
    kids = []
    for page in pages:
        names = []
        for packed, columns, rows, name in page.pictures:
            objects.append(
                f"<< /Type /XObject /Subtype /Image /Width {columns} /Height {rows} /ColorSpace /DeviceGray "
                f"/BitsPerComponent 8 /Filter /FlateDecode /Length {len(packed)} >>\nstream\n".encode()
                + packed
                + b"\nendstream"
            )
            names.append(f"/{name} {len(objects)} 0 R")
        body = zlib.compress("\n".join(page.parts).encode("latin-1"))
        objects.append(f"<< /Filter /FlateDecode /Length {len(body)} >>\nstream\n".encode() + body + b"\nendstream")
        resources = f"<< /Font << /F1 3 0 R /F2 4 0 R >> /XObject << {' '.join(names)} >> >>"
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {WIDTH:g} {HEIGHT:g}] /Resources {resources} "
            f"/Contents {len(objects)} 0 R >>".encode()
        )
        kids.append(f"{len(objects)} 0 R")
    objects[1] = f"<< /Type /Pages /Kids [{' '.join(kids)}] /Count {len(kids)} >>".encode()
    out, places = bytearray(b"%PDF-1.5\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(out)
    out += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode()
    out += b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
    out += f"trailer << /Size {len(objects) + 1} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n".encode()
    path.write_bytes(bytes(out))
    return path
