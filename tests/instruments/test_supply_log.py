"""A supply that is on is logged by the words of its own family, and left on."""

from tests.instruments.test_described import FINE, Conversation

from ohmwright.circuit import Feed
from ohmwright.instruments.supply_log import supply_log

WHO = ("*IDN?", "Invented,E3699 supply,0,1")
LOOK = [("MEAS:VOLT?", "5.0"), FINE, ("MEAS:CURR?", "0.1"), FINE, ("CURR?", "0.5"), FINE]


def test_who_only_looks_on_switches_nothing_off():
    """Asked who it is, and once more by the line it is then read on; no word but questions."""
    said = Conversation(WHO, (None, None), WHO, *[pair for _ in range(12) for pair in LOOK], (None, None))
    trace = supply_log(said.address, Feed("VIN", "GND", 5.0, 0.5), 30.0)
    assert said.over(), said.wrong
    assert len(trace.times) == 12
    assert set(trace.amps) == {0.1}
