"""What a part may be replaced by, role by role: what must match, what may differ, with margins and reasons.

Rules are common practice without a source unless one is named beside them; the figures that a case knows
(volts of the rail, current of the coil) go into the margins.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ohmwright.quantities import format_quantity

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Need:
    """One property: what it must be, why, and who says so.

    Parameters
    ----------
    least, most : float or None
        Limits in SI units; None where there is none or no figure is known.
    """

    property: str
    must: str
    why: str
    source: str = PRACTICE
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """What a replacement needs.

    Parameters
    ----------
    must : tuple of Need
    may : tuple of str
        What may differ, and why that does no harm.
    cautions : tuple of str
    """

    kind: str
    must: tuple[Need, ...]
    may: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is known of the part to be replaced and its place.

    Parameters
    ----------
    rail : float or None
        Most volts across it in use. [V]
    value : float or None
        [Ω], [F] or [H]
    amps : float or None
        Most current through it, peak for a coil. [A]
    role : str
        Its role in the typical circuit: "boot capacitor".
    rated : float or None
        Volts the old one was rated for. [V]
    """

    kind: str
    role: str = ""
    rail: float | None = None
    value: float | None = None
    amps: float | None = None
    rated: float | None = None


def replacement(wanted: Wanted) -> Advice:
    """What must match and what may differ for a part in its place."""
    maker = _RULES.get(wanted.kind, _other)
    return maker(wanted)


def _capacitor(w: Wanted) -> Advice:
    exact = any(
        word in w.role for word in ("boot", "compensation", "soft-start", "feed-forward", "crystal", "slew", "snubber")
    )
    low, high = (0.9, 1.1) if exact else (0.8, 2.0)
    need = [
        _volts("rated volts", w, 1.0 / 0.55, "class 2 ceramic stays at 50 to 60 % of its rating on bulk rails"),
        Need("capacitance", _span(w.value, low, high, "F"),
        "its time or loop depends on it" if exact else "less lets ripple rise, more slows the start",
             least=_times(w.value, low), most=_times(w.value, high)),
        Need("dielectric", "X5R, X7R or better; C0G where it was C0G; never Y5V",
        "Y5V loses most of its capacitance in heat", "EIA-198-1"),
        Need("body", "the same size, or larger if it fits",
        "a smaller body loses more capacitance to the volts across it",
             "makers' bias curves: a 10 V part at 10 V keeps 30 to 50 % (a vendor's page, weak)"),
    ]  # fmt: skip
    return Advice(
        w.kind, tuple(need), ("maker", "height where there is room"),
        ("Do not fit a ceramic capacitor again that was pulled for a test: heat and tools crack it.",),
    )  # fmt: skip


def _polymer(w: Wanted) -> Advice:
    need = (
        _volts(
            "rated volts", w, 1.0 / 0.85, "polymer to 80 or 90 % of its rating; tantalum with manganese dioxide to 50 %"
        ),
        Need(
            "capacitance",
            _span(w.value, 0.8, 1.5, "F"),
            "ripple",
            least=_times(w.value, 0.8),
            most=_times(w.value, 1.5),
        ),
        Need("series resistance", "the same class", "the loop is made for it"),
        Need(
            "polarity", "the bar is plus on tantalum and polymer chips, minus on cans", "the wrong way round it burns"
        ),
    )
    return Advice(w.kind, need, ("maker",), ("Wear goggles at the first power.",))


def _coil(w: Wanted) -> Advice:
    saturation = 1.3 * w.amps if w.amps else None
    need = (
        Need("inductance", _span(w.value, 0.8, 1.2, "H"), "ripple current and loop", least=_times(w.value, 0.8),
        most=_times(w.value, 1.2)),
        Need("saturation current",
        f"at least {format_quantity(saturation, 'A')}" if saturation else "at least 1.3 times the peak",
             "saturated, it limits nothing and the switches blow", least=saturation),
        Need("resistance", "at most 1.2 times the old one's", "heat, and current sensing across it"),
        Need("shield", "shielded where it was", "stray field into the feedback"),
    )  # fmt: skip
    return Advice(w.kind, need, ("maker", "height where there is room"))


def _fet(w: Wanted) -> Advice:
    need = (
        Need("type", "the same channel, N or P", "the body diode decides what is fed backwards"),
        _volts("drain-source volts", w, 1.5, "30 V class on rails of 19 or 20 V"),
        Need("gate volts", "the same limit, and on at the driver's 4.5 or 5 V", "a part made for 10 V stays half open"),
        Need("on resistance", "at most 1.2 times at the same gate volts", "heat"),
        Need(
            "gate charge", "within 30 % on switching sides; low on the upper side", "dead time of the driver is fixed"
        ),
        Need("legs", "order of the legs and pad under the body", "makers of one body differ"),
    )
    return Advice(
        w.kind, need, ("maker",),
        ("Do not mix one of a pair of unknown make.", "Ask why it failed: a shorted driver kills the next one too."),
    )  # fmt: skip


def _fuse(w: Wanted) -> Advice:
    need = (
        Need(
            "hold current",
            _exactly(w.value or w.amps, "A"),
            "lower opens in use, higher protects nothing",
            least=w.value or w.amps,
            most=w.value or w.amps,
        ),
        Need("speed and I²t", "the same", "a slow fuse for a fast one lets the part behind it burn first"),
        _volts("rated volts", w, 1.0, "it must break the arc"),
        Need("breaking capacity", "at least the same", "the source behind it can deliver more than it holds"),
    )
    return Advice(
        w.kind, need, ("size where it fits",), ("Never a link in place of a fuse.", "First find what opened it.")
    )


def _tvs(w: Wanted) -> Advice:
    need = (
        Need("stand-off volts",
             _span(w.rail, 1.0, 1.2, "V") if w.rail else "just above the highest volts of the rail",
             "below it leaks and heats, above it protects less", least=w.rail, most=_times(w.rail, 1.2)),
        Need("clamping volts", "at most what the chips behind it stand", "that is what it is there for"),
        Need("direction", "one-way or two-way as before", "a one-way part on a line that swings both ways shorts it"),
        Need("pulse class", "the same or more", "it must take the surge"),
    )  # fmt: skip
    return Advice(
        w.kind, need, ("maker",), ("Running without it for a trial belongs on the bench and into the report.",)
    )


def _sense(w: Wanted) -> Advice:
    need = (
        Need("resistance", _exactly(w.value, "Ω"), "every limit is set by it: twice the ohms is half the current",
        least=_times(w.value, 0.99), most=_times(w.value, 1.01)),
        Need("tolerance", "1 %, 100 ppm/K or less", "heat of its own must not move the limit"),
        Need("power", "at least the old one's", "heat"),
        Need("make", "four ends or the same pads", "the sense lines read the pads too"),
    )  # fmt: skip
    return Advice(w.kind, need, ("maker",))


def _resistor(w: Wanted) -> Advice:
    tight = any(word in w.role for word in ("divider", "setting", "limit", "frequency", "bias"))
    share = 0.01 if tight else 0.05
    need = [
        Need("resistance", f"{_exactly(w.value, 'Ω')} within {share:.0%}",
        "it sets a figure" if tight else "pull or series: near is enough",
             least=_times(w.value, 1 - share), most=_times(w.value, 1 + share)),
        Need("power and volts", "at least the old size's", "heat"),
    ]  # fmt: skip
    if "divider" in w.role:
        need.append(
            Need(
                "value",
                "computed again from the reference and the output",
                "Vout = Vref (1 + upper / lower)",
                "Kirchhoff",
            )
        )
    return Advice(w.kind, tuple(need), ("size where it fits", "maker"))


def _diode(w: Wanted) -> Advice:
    need = (
        Need("sort", "Schottky for Schottky in a converter", "a slow diode burns there"),
        _volts("reverse volts", w, 1.5, "spikes of the switch node"),
        Need(
            "current",
            f"at least {format_quantity(w.amps, 'A')}" if w.amps else "at least the old one's",
            "heat",
            least=w.amps,
        ),
        Need("direction", "bar to the same pad", "the wrong way round it shorts the rail"),
    )
    return Advice(w.kind, need, ("maker", "leakage, unless it stands beside a battery"))


def _chip(w: Wanted) -> Advice:
    need = (
        Need(
            "number",
            "the exact number; a suffix only after its datasheet was compared",
            "thresholds, options and addresses hide in suffixes",
        ),
        Need("contents", "programmed parts need the contents of the old one or of a donor", "a blank one does nothing"),
        Need("pins", "pin order of this very package", "one die comes in several pin orders"),
    )
    return Advice(
        w.kind, need, (),
        ("Sources: authorised seller, then a donor of the same revision, then a broker.",
         "Compare diode readings between its pins with the old or another piece before it is fitted."),
    )  # fmt: skip


def _other(w: Wanted) -> Advice:
    return Advice(w.kind, (Need("part", "the same part", "nothing is known of its role"),))


_RULES = {
    "capacitor": _capacitor, "polymer": _polymer, "coil": _coil, "fet-n": _fet, "fet-p": _fet, "fuse": _fuse,
    "tvs": _tvs,
    "tvs-two-way": _tvs, "sense": _sense, "resistor": _resistor, "diode": _diode, "schottky": _diode, "ic": _chip,
    "buck": _chip,
    "boost": _chip, "buck-boost": _chip, "linear": _chip, "load-switch": _chip, "charger": _chip,
}  # fmt: skip


def _volts(name: str, w: Wanted, factor: float, why: str) -> Need:
    least = factor * w.rail if w.rail else w.rated
    if w.rail and w.rated:
        least = max(factor * w.rail, min(w.rated, 2.5 * w.rail))
    must = f"at least {format_quantity(least, 'V', 2)}" if least else "at least the old one's"
    return Need(name, must, why, least=least)


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _span(value: float | None, low: float, high: float, unit: str) -> str:
    if value is None:
        return f"{low - 1:+.0%} to {high - 1:+.0%} of the old one's"
    return f"{format_quantity(low * value, unit)} to {format_quantity(high * value, unit)}"


def _exactly(value: float | None, unit: str) -> str:
    return format_quantity(value, unit) if value is not None else "exactly the old one's"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part at hand: from own stock or a donor board, with what is known of it, in SI units by property."""

    name: str
    where: str
    properties: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Judged:
    """A candidate with what fits, what does not, and what nobody knows."""

    candidate: Candidate
    fails: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def usable(self) -> bool:
        """Whether nothing known speaks against it."""
        return not self.fails


def judged(advice: Advice, candidates: Sequence[Candidate]) -> tuple[Judged, ...]:
    """Candidates held against the needs that have figures; fitting ones first, those known best before others."""
    out = []
    for candidate in candidates:
        known = dict(candidate.properties)
        fails, unknown = [], []
        for need in advice.must:
            value = known.get(need.property)
            if value is None:
                unknown.append(need.property)
            elif (need.least is not None and value < 0.999 * need.least) or (
                need.most is not None and value > 1.001 * need.most
            ):
                fails.append(f"{need.property} is {format_quantity(value)}, must be {need.must}: {need.why}")
        out.append(Judged(candidate, tuple(fails), tuple(unknown)))
    return tuple(sorted(out, key=lambda j: (len(j.fails), len(j.unknown), j.candidate.name)))


def pin_differences(old: Mapping[str, str], new: Mapping[str, str]) -> tuple[str, ...]:
    """Where the pin orders of two parts differ, one sentence each; by name, without bars and case."""

    def plain(name: str) -> str:
        return "".join(mark for mark in name.upper() if mark.isalnum() or mark in "+-")

    out = [
        f"pin {number} is {old[number]} on the old part and {new[number]} on the new one"
        for number in sorted(set(old) & set(new), key=lambda n: (len(n), n))
        if plain(old[number]) != plain(new[number])
    ]
    out += [f"pin {n} is only on the old part ({old[n]})" for n in sorted(set(old) - set(new))]
    out += [f"pin {n} is only on the new part ({new[n]})" for n in sorted(set(new) - set(old))]
    return tuple(out)
