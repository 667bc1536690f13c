"""The record of a case: readings, reasoning, proof and repair, as Markdown or plain text."""

from __future__ import annotations

from collections.abc import Iterator

from ohmwright.diagnosis.answer import Claim, Level
from ohmwright.facts import Deed
from ohmwright.usecases.desk import CaseView
from ohmwright.usecases.entry_words import entry_words

WIDTH = 10
"""Suspects listed. [1]"""


def write_up(view: CaseView, *, markdown: bool = True) -> str:
    """What was found and how, in the order of the case, with what was not settled."""
    lines = [f"# {view.name}", "", f"Board: {view.board.name}", ""]
    for title, section in (
        ("What is claimed", _claims(view)),
        ("What was measured and done", _entries(view)),
        ("What could be", _suspects(view)),
        ("What does not fit", _misfits(view)),
        ("Repair", _repair(view)),
        ("Not settled", _open(view)),
    ):
        found = list(section)
        if found:
            lines += [f"## {title}", "", *found, ""]
    text = "\n".join(lines).rstrip() + "\n"
    return text if markdown else _plain(text)


def claim_lines(claim: Claim) -> Iterator[str]:
    """A claim with its signs and the events they rest on."""
    yield f"- {claim.level.value}: {claim.words}"
    for number, sign in enumerate(claim.signs, 1):
        yield f"  - sign {number}: {sign.text} ({', '.join(sign.events)})"


def _claims(view: CaseView) -> Iterator[str]:
    for claim in view.diagnosis.claims:
        yield from claim_lines(claim)
    if not view.diagnosis.claims:
        yield "- Nothing can be claimed yet."


def _entries(view: CaseView) -> Iterator[str]:
    orphans = {orphan.sequence for orphan in view.book.orphans}
    for event in view.book.events:
        undone = " [taken back]" if event.sequence in view.book.undone else ""
        lost = " [no longer holds]" if event.sequence in orphans else ""
        yield f"- {event.key} {event.at} {event.author}: {entry_words(event.what)}{undone}{lost}"


def _suspects(view: CaseView) -> Iterator[str]:
    for suspect in view.diagnosis.suspects[:WIDTH]:
        yield f"- {suspect.probability:.1%} {suspect.words}{f', {suspect.extent}' if suspect.extent else ''}"
        for reason in sorted(suspect.reasons, key=lambda r: -abs(r.bits))[:3]:
            yield f"  - {reason.event}: {reason.text} ({reason.bits:+.1f} bit)"
    for group in view.diagnosis.groups:
        yield f"- cannot be told apart: {group.words}" + (f"; split by {group.split_by}" if group.split_by else "")


def _misfits(view: CaseView) -> Iterator[str]:
    for clash in view.diagnosis.contradictions:
        yield f"- {clash.text} (most likely wrong: {clash.most_likely_wrong})"
    for orphan in view.book.orphans:
        yield f"- e{orphan.sequence} no longer holds: {orphan.why}"


def _repair(view: CaseView) -> Iterator[str]:
    words = {
        Deed.REPLACED: "new part fitted", Deed.CLEANED: "cleaned", Deed.REFLOWED: "reflowed",
        Deed.WORKS: "board tried and works", Deed.STILL_DEAD: "board tried and is still dead",
    }  # fmt: skip
    for act in view.facts.acts:
        if act.deed in words:
            yield f"- {act.key}: {act.part} {words[act.deed]}".replace("  ", " ")
    for part in sorted(view.facts.state.off):
        yield f"- {part} is still off the board"


def _open(view: CaseView) -> Iterator[str]:
    proven = any(claim.level is Level.PROVEN for claim in view.diagnosis.claims)
    if not proven:
        yield "- No part is proven."
    if view.diagnosis.approximate:
        yield "- The probabilities rest on an approximation that is loose here."
    if view.advice.would_decide:
        yield f"- What would decide it: {view.advice.would_decide}"
    if not any(act.deed is Deed.WORKS for act in view.facts.acts):
        yield "- The board was not tried after a repair."


def _plain(markdown: str) -> str:
    out: list[str] = []
    for line in markdown.splitlines():
        bare = line.lstrip("#").strip() if line.startswith("#") else line
        out.append(bare)
        if line.startswith("#"):
            out.append(("=" if line.startswith("# ") else "-") * len(bare))
    return "\n".join(out) + "\n"
