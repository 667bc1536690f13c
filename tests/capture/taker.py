"""Takes values through the capture into a case file and says which are acknowledged; the test kills it."""

import sys
from pathlib import Path

from ohmwright.bootstrap import desk_at
from ohmwright.usecases.capture import Capture, Rules, Sample, Sound, heard
from ohmwright.usecases.desk import record
from ohmwright.usecases.foreseen import entry_of

desk, capture, at, value = desk_at(Path(sys.argv[1])), Capture(), 0.0, 0
while True:
    value = value % 900 + 7
    for shown in [None] * 6 + [value / 1000] * 8:
        at += 0.1
        capture, sign = heard(capture, Sample(at, shown, overload=shown is None, step=1e-3), Rules())
        if sign is not None and sign.sound is Sound.TAKEN:
            book = record(desk, "lamp", entry_of("diode", sys.argv[2], sys.argv[3], sign.value, desk.meter))
            print(book.sequence, sign.value, flush=True)
    at += 1.0
