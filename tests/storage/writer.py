"""Writes entries as fast as it can and says on stdout which are acknowledged; the test kills it."""

import sys
from pathlib import Path

from ohmwright.casebook import Event
from ohmwright.casebook import events as h
from ohmwright.facts import Quantity
from ohmwright.storage.casefile import CaseFile

store = CaseFile(Path(sys.argv[1]))
last = store.events("lamp")[-1].sequence
while True:
    reading = h.ReadingRecorded(Quantity.DIODE, "VIN", "GND", last / 1000)
    store.append("lamp", last, [Event(last + 1, "2026-01-01T00:00:00Z", "kim", reading)])
    last += 1
    print(last, flush=True)
