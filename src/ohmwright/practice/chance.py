"""Luck that depends on the seed and on words alone: the same seed meets the same board, whatever was done before."""

from __future__ import annotations

import hashlib

import numpy as np

Dice = np.random.Generator


def dice_for(seed: int, *words: object) -> Dice:
    """A generator for one purpose, named by words. [1]"""
    text = "|".join([str(seed), *(str(word) for word in words)])
    return np.random.default_rng(int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "little"))


def about(dice: Dice, median: float, log_sd: float) -> float:
    """A positive quantity drawn lognormally about a median; `log_sd` of its natural logarithm. [1]"""
    return float(median * np.exp(dice.normal(0.0, log_sd)))
