"""Whether solvent may still be on the board: alcohol and heat never together, and none before power."""

from __future__ import annotations

from ohmwright.facts import TRIALS, Deed, Facts


def is_wet(facts: Facts) -> bool:
    """Whether something was cleaned and the board was not fed or tried since."""
    cleaned = [n for n, act in enumerate(facts.acts) if act.deed is Deed.CLEANED]
    if not cleaned:
        return False
    if any(act.deed in TRIALS for act in facts.acts[cleaned[-1] :]):
        return False
    part = facts.acts[cleaned[-1]].part
    since = [facts.state, *(one.state for one in facts.readings), *(one.state for one in facts.heats)]
    return not any(state.feed is not None and part in state.cleaned for state in since)
