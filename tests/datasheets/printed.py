"""Datasheets set by another program: a web page printed to PDF by Chromium, with its own fonts and table layout."""

from __future__ import annotations

import html
import subprocess
from pathlib import Path

from tests.datasheets.invented import PartTruth, RatingTruth, invented_part

STYLES = {
    "grid": "td,th{border:1px solid #333;padding:2px 5px} table{border-collapse:collapse}",
    "lines": "table{border-collapse:collapse;border-top:2px solid #000;border-bottom:2px solid #000} "
    "td,th{padding:3px 6px} tr{border-bottom:1px solid #999}",
    "bare": "td,th{padding:4px 9px;text-align:left;vertical-align:top} th{font-weight:bold}",
    "centred": "table{border-collapse:collapse} td,th{border:1px solid #777;padding:3px;text-align:center}"
    " td,th{vertical-align:middle} td:last-child{text-align:left} th{background:#ddd}",
    "two columns": "body{columns:2;column-gap:8mm;font:7.5pt sans-serif!important}"
    " td,th{padding:2px 3px;text-align:left;vertical-align:top} table{border-collapse:collapse;border:1px solid #000}",
    "stripes": "body{font:8pt monospace!important} tr:nth-child(even){background:#eee}"
    " td,th{padding:3px 8px;text-align:left}",
}


def printed(path: Path, style: str, seed: int, packages: int = 2, pins: int = 26) -> PartTruth:
    """Write a datasheet; the truth comes back."""
    part = invented_part(seed, packages, pins)
    span = f'<th colspan="{packages}">PIN</th>' if packages > 1 else ""
    bodies = "".join(f"<th>{body}</th>" for body in part.packages)
    if packages > 1:
        rest = "".join(f'<th rowspan="2">{label}</th>' for label in ("NAME", "TYPE", "DESCRIPTION"))
        head = f"<tr>{span}{rest}</tr><tr>{bodies}</tr>"
    else:
        head = "<tr><th>PIN NO.</th><th>NAME</th><th>TYPE</th><th>DESCRIPTION</th></tr>"
    rows = "".join(
        "<tr>"
        + "".join(f"<td>{html.escape(cell)}</td>" for cell in (*pin.numbers, pin.name, pin.kind, pin.words))
        + "</tr>"
        for pin in part.pins
    )
    body = f"""<h1>{part.name}</h1><h2>1 Description</h2><p>{"A regulator with its switches inside. " * 14}</p>
    <h2>2 Pin Functions</h2><table><thead>{head}</thead><tbody>{rows}</tbody></table>
    <h2>3 Absolute Maximum Ratings</h2>{_limits(part.limits, False)}
    <h2>4 Recommended Operating Conditions</h2>{_limits(part.recommended, True)}
    <h2>5 Details</h2><p>{"The loop needs no outer parts and 2 pins are tied. " * 30}</p>"""
    page = path.with_suffix(".html")
    page.write_text(
        f"<!doctype html><meta charset=utf-8><style>body{{font:9pt sans-serif;margin:0}}{STYLES[style]}</style>{body}",
        encoding="utf-8",
    )
    subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--print-to-pdf={path}",
        page.as_uri()],
        check=True, capture_output=True, timeout=90,
    )  # fmt: skip
    return part


def _limits(rows: tuple[RatingTruth, ...], typical: bool) -> str:
    head = "<tr><th>PARAMETER</th><th>MIN</th>" + ("<th>TYP</th>" if typical else "") + "<th>MAX</th><th>UNIT</th></tr>"
    cells = ((r.parameter, r.low, *((r.typical,) if typical else ()), r.high, r.unit) for r in rows)
    body = "".join("<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>" for row in cells)
    return f"<table><thead>{head}</thead><tbody>{body}</tbody></table>"
