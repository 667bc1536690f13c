"""Eight more layouts, printed by Chromium, first run when the reader was done on all others.

What the first run gave stands in docs/part-book.md. Three things it showed were mended since (heads in smaller type
than the table, rows grouped under lines of their own, heads that name bodies only), so these are no longer unseen.
"""

from __future__ import annotations

import html
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser
from tests.datasheets.invented import PartTruth, RatingTruth, invented_part

PROSE = (
    "The part keeps its output steady while the input moves. Two capacitors and a coil are all it needs outside. In "
    "light load it skips pulses. Pins 3 and 4 must be joined close to the body, and traces of more than 10 mm avoided. "
)
PLAIN = "table{border-collapse:collapse} td,th{padding:3px 6px;text-align:left;vertical-align:top}"
Maker = Callable[[PartTruth], str]


def _e(text: str) -> str:
    return html.escape(text)


def _table(head: list[str], rows: list[list[str]]) -> str:
    top = "".join(f"<th>{cell}</th>" for cell in head)
    body = "".join("<tr>" + "".join(f"<td>{_e(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def _ranged(rows: tuple[RatingTruth, ...]) -> list[list[str]]:
    """Limits as one column: from one figure to the other, or the one there is."""
    return [[r.parameter, f"{r.low} to {r.high}" if r.low and r.high else r.high or r.low, r.unit] for r in rows]


def _limits(part: PartTruth, *, ranged: bool = False) -> str:
    if ranged:
        first = _table(["Parameter", "Value", "Unit"], _ranged(part.limits))
    else:
        first = _table(["Parameter", "Min", "Max", "Unit"], [[r.parameter, r.low, r.high, r.unit] for r in part.limits])
    wanted = [[r.parameter, r.low, r.typical, r.high, r.unit] for r in part.recommended]
    second = _table(["Parameter", "Min", "Typ", "Max", "Unit"], wanted)
    return (
        f"<h2>Absolute Maximum Ratings</h2>{first}<p>{PROSE}</p><h2>Recommended Operating Conditions</h2>{second}"
    )


def banded(part: PartTruth) -> str:
    """A dark band with white heads, the name before the number, thin rules, serif type."""
    css = PLAIN + "body{font:9.5pt serif} th{background:#124;color:#fff} td{border-bottom:0.5px solid #777}"
    rows = [[p.name, p.numbers[0], p.kind, p.words] for p in part.pins]
    table = _table(["Name", "Pin", "I/O", "Description"], rows)
    return f"<style>{css}</style><h2>Pin Description</h2>{table}{_limits(part)}"


def landscape(part: PartTruth) -> str:
    """A wide page, a column more than usual, everything in frames."""
    css = PLAIN + "@page{size:A4 landscape} body{font:9pt sans-serif} td,th{border:1px solid #000}"
    rows = [[p.numbers[0], p.name, p.kind, "-" if p.kind == "P" else "High-Z", p.words] for p in part.pins]
    head = ["Pin No.", "Pin Name", "Type", "Reset State", "Function"]
    return f"<style>{css}</style><h2>Pin Functions</h2>{_table(head, rows)}{_limits(part, ranged=True)}"


def two_bodies(part: PartTruth) -> str:
    """Two packages beside each other, named in the heads and nowhere else."""
    css = PLAIN + "body{font:9pt sans-serif} tr{border-bottom:1px solid #aaa} thead tr{border-top:2px solid #000}"
    rows = [[p.name, p.numbers[0], p.numbers[1], p.words] for p in part.pins]
    table = _table(["Name", *part.packages, "Description"], rows)
    return f"<style>{css}</style><h2>Pin Functions</h2>{table}{_limits(part)}"


def dense(part: PartTruth) -> str:
    """Small type over several pages, rows grouped under lines of their own."""
    css = PLAIN + "body{font:6.5pt sans-serif} td,th{padding:1px 4px;border:0.5px solid #999} .g td{background:#ddd}"
    rows = ""
    for k, p in enumerate(part.pins):
        if k % 9 == 0:
            title = "Power and ground" if k % 18 == 0 else "Control signals"
            rows += f"<tr class=g><td colspan=4><b>{title}</b></td></tr>"
        rows += "<tr>" + "".join(f"<td>{_e(c)}</td>" for c in (p.numbers[0], p.name, p.kind, p.words)) + "</tr>"
    head = "<tr><th>No.</th><th>Symbol</th><th>Type</th><th>Description</th></tr>"
    return (
        f"<style>{css}</style><h2>Pin Assignment</h2><p>{PROSE * 34}</p><table><thead>{head}</thead>{rows}</table>"
        + _limits(part)
    )


def floated(part: PartTruth) -> str:
    """The table stands at the right, text runs down beside it."""
    css = PLAIN + "body{font:8.5pt sans-serif} .t{float:right;width:62%;margin-left:5mm}"
    css += " td,th{border-bottom:1px solid #888}"
    rows = [[p.numbers[0], p.name, p.words] for p in part.pins]
    table = _table(["PIN", "NAME", "FUNCTION"], rows)
    return (
        f'<style>{css}</style><h2>Pin Functions</h2><div class=t>{table}</div><p>{PROSE * 3}</p>'
        f'<div style="clear:both"></div>{_limits(part)}'
    )


def dotted(part: PartTruth) -> str:
    """Dotted lines, centred numbers, heads in small capitals."""
    css = PLAIN + "body{font:9pt sans-serif} td{border-bottom:1px dotted #555}"
    css += " th{text-transform:uppercase;font-size:7pt}"
    css += " td:first-child,th:first-child{text-align:center;width:14mm}"
    rows = [[p.numbers[0], p.name, p.words] for p in part.pins]
    head = ["Pin number", "Pin name", "Description"]
    return f"<style>{css}</style><h2>Pin Configuration and Functions</h2>{_table(head, rows)}{_limits(part)}"


def merged(part: PartTruth) -> str:
    """Rows that follow one another and are of one type share its cell."""
    css = PLAIN + "body{font:9pt sans-serif} td,th{border:1px solid #444;vertical-align:middle}"
    rows, k, pins = "", 0, part.pins
    while k < len(pins):
        run = 1
        while k + run < len(pins) and pins[k + run].kind == pins[k].kind:
            run += 1
        for j in range(run):
            p = pins[k + j]
            kind = f"<td rowspan={run}>{p.kind}</td>" if j == 0 else ""
            rows += f"<tr><td>{p.numbers[0]}</td><td>{_e(p.name)}</td>{kind}<td>{_e(p.words)}</td></tr>"
        k += run
    head = "<tr><th>Pin</th><th>Name</th><th>Type</th><th>Description</th></tr>"
    return f"<style>{css}</style><h2>Pin Functions</h2><table><thead>{head}</thead>{rows}</table>{_limits(part)}"


def airy(part: PartTruth) -> str:
    """No lines at all, much blank between rows, number and name in bold, description indented."""
    css = PLAIN + "body{font:10pt serif} td{padding:7px 12px} td:nth-child(-n+2){font-weight:bold}"
    rows = [[p.numbers[0], p.name, p.words] for p in part.pins]
    head = ["Pin", "Symbol", "Description"]
    return f"<style>{css}</style><h2>Pin Descriptions</h2>{_table(head, rows)}{_limits(part, ranged=True)}"


LAYOUTS: dict[str, tuple[Maker, int, int]] = {
    "dark band, name first": (banded, 1, 16), "landscape, a column more": (landscape, 1, 20),
    "two packages, heads of one line": (two_bodies, 2, 20), "dense, grouped, over pages": (dense, 1, 26),
    "beside text": (floated, 1, 14), "dotted lines": (dotted, 1, 16), "types in shared cells": (merged, 1, 16),
    "airy, no lines": (airy, 1, 14),
}  # fmt: skip
"""Name to the maker of the page, packages, pins."""


def fresh(browser: Browser, path: Path, layout: str, seed: int) -> PartTruth:
    """Print one datasheet; the truth comes back."""
    maker, packages, pins = LAYOUTS[layout]
    part = invented_part(seed, packages, pins)
    page = browser.new_page()
    page.set_content(f"<!doctype html><meta charset=utf-8><h1>{part.name}</h1><p>{PROSE}</p>{maker(part)}")
    page.pdf(path=path, prefer_css_page_size=True, margin=dict.fromkeys(("top", "bottom", "left", "right"), "15mm"))
    page.close()
    return part
