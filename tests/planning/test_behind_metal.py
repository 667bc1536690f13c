"""Before anything is read, nets behind coils and beads are weighed too, though every rail holds more belief."""

from __future__ import annotations

from ohmwright.circuit import Board, Net, Part, Pin
from ohmwright.diagnosis.posterior import posterior_of
from ohmwright.facts import Facts, Quantity, Reading, Symptom
from ohmwright.planning.candidates import MOST_BEHIND, MOST_NETS, probes
from ohmwright.planning.scene import mass_by_net, scene_of

RAILS = MOST_NETS + 2


def board() -> Board:
    """More rails than are weighed at a time, each behind the coil of a stage of its own."""
    nets, parts = [Net("GND"), Net("V12", 12.0, rail=True)], []
    for k in range(RAILS):
        rail, phase = f"P{k}", f"PHASE{k}"
        nets += [Net(rail, 3.3, rail=True), Net(phase)]
        parts.append(Part(f"L{k}", "coil", (Pin("1", phase), Pin("2", rail))))
        roles = (("1", "V12", "VIN"), ("2", phase, "SW"), ("3", "GND", "GND"))
        parts.append(Part(f"U{k}", "buck", tuple(Pin(*pin) for pin in roles)))
        parts += [Part(f"C{k}_{n}", "capacitor", (Pin("1", rail), Pin("2", "GND"))) for n in range(8)]
    return Board("many stages", "GND", tuple(nets), tuple(parts), entries=("V12",))


def probed(*readings: Reading) -> tuple[set[str], dict[str, float]]:
    """Nets with a candidate to ground, and the belief at each net."""
    posterior = posterior_of(board(), Facts(readings, symptom=Symptom.DEAD))
    found = {c.reading for c in probes(scene_of(posterior)) if c.reading is not None}
    nets = {end for r in found if "GND" in (r.red, r.black) for end in (r.red, r.black)} - {"GND"}
    return {posterior.board.net_at(net) for net in nets}, mass_by_net(posterior)


def test_the_first_probe_may_lie_behind_a_coil() -> None:
    nets, mass = probed()
    behind = {net for net in nets if net.startswith("PHASE")}
    assert 0 < len(behind) <= MOST_BEHIND
    assert max(mass[net] for net in behind) < min(mass[f"P{k}"] for k in range(RAILS))


def test_once_something_is_read_belief_alone_decides() -> None:
    nets, _ = probed(Reading(Quantity.DIODE, "GND", "V12", 0.46))
    assert not {net for net in nets if net.startswith("PHASE")}
