"""Numbers by which flat tables say what a line shows and what a defect does."""

OHMS, DIODE, VOLTS, SUPPLY_AMPS, SUPPLY_VOLTS = range(5)
"""What a line shows."""
NOTHING, PATH, OPEN, DRIFT, DEAD, PIN = range(6)
"""What a defect does: puts something across two nodes, opens or changes a resistance, takes a junction away, or cuts a
pin off."""
