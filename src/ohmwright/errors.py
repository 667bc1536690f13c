"""The exception tree of ohmwright.

Every error of ours says what is wrong, where, why, and what to try::

    OhmwrightError
    ├── DataError            bad or impossible data in a file, a case or a reading
    │   ├── FileFormatError  a file that cannot be read as what it claims to be
    │   ├── ReadingError     a reading that cannot be what a meter showed
    │   ├── UnknownNameError a part, pin, net or case that is not there
    │   └── CaseConflictError somebody else wrote to the case first
    ├── CircuitError         the circuit cannot be solved as it stands
    │   ├── FloatingNetsError
    │   └── NoConvergenceError
    ├── RefusedError         a step that safety does not permit
    └── InstrumentError      a meter or a supply that does not answer as it should
        └── OutputUnknownError  a supply that cannot be reached, whose output may be on
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class OhmwrightError(Exception):
    """Any failure that ohmwright can explain.

    Parameters
    ----------
    what : str
        One sentence: what is wrong.
    where : str
        The file and line, the part, the net or the field it concerns.
    why : str
        The reason, in the words of the trade.
    hint : str
        What to try next.
    """

    code = "error"

    def __init__(self, what: str, *, where: str = "", why: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.why = why
        self.hint = hint

    def __str__(self) -> str:
        lines = [self.what]
        if self.where:
            lines.append(f"  Where: {self.where}")
        if self.why:
            lines.append(f"  Why: {self.why}")
        if self.hint:
            lines.append(f"  Try: {self.hint}")
        return "\n".join(lines)


class DataError(OhmwrightError):
    """Bad or impossible data."""

    code = "bad-data"


class FileFormatError(DataError):
    """A file that cannot be read as what it claims to be."""

    code = "file-format"


class ReadingError(DataError):
    """A reading that cannot be what a meter showed."""

    code = "bad-reading"


class UnknownNameError(DataError):
    """A name that stands for nothing here; the nearest names are offered."""

    code = "unknown-name"

    @classmethod
    def among(cls, kind: str, name: str, known: Iterable[str], *, where: str = "") -> UnknownNameError:
        """The error for `name`, with the nearest of the `known` names as the hint."""
        known = sorted(known)
        near = difflib.get_close_matches(name, known, n=3, cutoff=0.5)
        hint = f"Did you mean {', '.join(near)}?" if near else _listing(kind, known)
        return cls(f"There is no {kind} called {name!r}.", where=where, hint=hint)


class CaseConflictError(DataError):
    """Somebody else wrote to the case since it was read."""

    code = "case-conflict"


class CircuitError(OhmwrightError):
    """The circuit cannot be solved as it stands."""

    code = "circuit"


class FloatingNetsError(CircuitError):
    """Nets without any path to ground.

    Attributes
    ----------
    nets : tuple of str or int
        The nets concerned.
    """

    code = "floating-nets"

    def __init__(self, nets: Iterable[object]) -> None:
        self.nets = tuple(nets)
        shown = ", ".join(str(n) for n in self.nets[:6]) + (", ..." if len(self.nets) > 6 else "")
        super().__init__(
            f"{len(self.nets)} nets have no DC path to ground: {shown}.",
            why="nothing that conducts joins them to the reference net",
            hint="choose the ground net again, or give one of their parts a leakage resistance",
        )


class NoConvergenceError(CircuitError):
    """The iteration for the junctions did not settle.

    Attributes
    ----------
    columns : tuple of int
        Which of the variants solved together did not settle.
    """

    code = "no-convergence"

    def __init__(self, columns: Iterable[int], *, worst: float) -> None:
        self.columns = tuple(columns)
        super().__init__(
            f"{len(self.columns)} circuit variants did not settle (largest step left {worst:.3g} V).",
            why="junctions kept jumping between off and on",
            hint="report the case file: this is a defect of the solver, not of your board",
        )


class RefusedError(OhmwrightError):
    """A step that safety does not permit as it stands."""

    code = "refused"


class InstrumentError(OhmwrightError):
    """A meter or supply that does not answer as it should."""

    code = "instrument"


def _listing(kind: str, known: list[str]) -> str:
    if not known:
        return f"there is no {kind} at all yet"
    return f"known are: {', '.join(known[:8])}{', ...' if len(known) > 8 else ''}"


class OutputUnknownError(InstrumentError):
    """A supply that cannot be reached any more: its output may be on."""

    code = "output-unknown"
