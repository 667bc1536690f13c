"""What the meter in hand cannot see at a step."""

from __future__ import annotations

from ohmwright.evidence.blindness import blind_words
from ohmwright.facts import Meter
from ohmwright.planning.advice import Step
from ohmwright.usecases.record_reading import parse_quantity_name


def blind_notes(meter: Meter, probe: tuple[str, str, str] | None, step: Step | None) -> list[str]:
    """What it cannot see where the probes are, or at the due step; nothing where nothing is read."""
    quantity = probe[0] if probe else step.quantity if step is not None and step.act == "read" else ""
    return list(blind_words(meter, parse_quantity_name(quantity))) if quantity else []
