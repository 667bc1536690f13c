"""Which nets are worth a probe: those never read must get their turn beside rails that keep much belief."""

from ohmwright.facts import Quantity
from ohmwright.planning.candidates import HALF_READ, MOST_NETS, _worth_probing


def test_a_net_never_read_is_offered_however_much_belief_read_ones_keep() -> None:
    rails = [f"RAIL{k}" for k in range(3 * MOST_NETS)]
    mass = {**dict.fromkeys(rails, 0.02), "LINE": 0.001}
    both = {(q, frozenset((net, "GND"))) for net in rails for q in (Quantity.DIODE, Quantity.OHMS)}
    assert _worth_probing([*rails, "LINE"], mass, both, "GND") == ["LINE"]
    once = {(Quantity.DIODE, frozenset((net, "GND"))) for net in rails}
    offered = _worth_probing([*rails, "LINE"], mass, once, "GND")
    assert "LINE" in offered
    assert len(offered) == HALF_READ + 1
