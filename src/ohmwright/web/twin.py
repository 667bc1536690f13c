"""Keeps the practice board as the case says it stands, after an undo or when a case is taken up again."""

from __future__ import annotations

from ohmwright.errors import OhmwrightError
from ohmwright.usecases import feed_off
from ohmwright.usecases.desk import Desk, view_of
from ohmwright.usecases.run_test import PracticeBench
from ohmwright.usecases.set_feed import permit_for


class Twin:
    """The practice board behind the case."""

    def __init__(self, bench: PracticeBench) -> None:
        self._bench = bench

    def catch_up(self, desk: Desk, case: str, off_before: frozenset[str], *, fresh: bool = False) -> None:
        """Bring the board to where the case says it is, the supply off meanwhile.

        Parameters
        ----------
        off_before : frozenset of str
            Parts off the practice board as it stands.
        fresh : bool
            Whether it is a board at which nothing was done yet.
        """
        state = view_of(desk, case).facts.state
        self._bench.feed_off()
        self._bench.discharge()
        for part in sorted(off_before - state.off):
            self._bench.refit(part)
        for part in sorted(state.off - off_before):
            self._bench.take_off(part)
        if fresh:
            for part in sorted(state.replaced - state.off):
                self._bench.replace(part)
            for part in sorted(state.cleaned):
                self._bench.clean(part)
        if state.feed is None:
            return
        try:
            permit, _, _ = permit_for(desk, case, state.feed)
            self._bench.feed(permit)
        except OhmwrightError:
            feed_off(desk, case)  # the case must not say fed where it is not
