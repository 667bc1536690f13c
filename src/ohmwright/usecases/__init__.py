"""What a user can do with a case: one file per command."""

from ohmwright.usecases.amend import amend
from ohmwright.usecases.bridge import bridge
from ohmwright.usecases.clean import clean
from ohmwright.usecases.describe_entry import describe_entry
from ohmwright.usecases.desk import view_of
from ohmwright.usecases.discharge import discharge
from ohmwright.usecases.entry_words import entry_words
from ohmwright.usecases.feed_off import feed_off
from ohmwright.usecases.list_cases import list_cases
from ohmwright.usecases.open_case import open_case
from ohmwright.usecases.record_heat import record_heat
from ohmwright.usecases.record_look import record_look
from ohmwright.usecases.record_reading import record_reading
from ohmwright.usecases.refit import refit
from ohmwright.usecases.reflow import reflow
from ohmwright.usecases.replace_part import replace_part
from ohmwright.usecases.run_test import run_test
from ohmwright.usecases.set_feed import set_feed
from ohmwright.usecases.skip import skip
from ohmwright.usecases.take_off import take_off
from ohmwright.usecases.tell_symptom import tell_symptom
from ohmwright.usecases.tried import tried
from ohmwright.usecases.undo import undo
from ohmwright.usecases.why import why
from ohmwright.usecases.work_through import work_through
from ohmwright.usecases.write_up import write_up

__all__ = [
    "amend",
    "bridge",
    "clean",
    "describe_entry",
    "discharge",
    "entry_words",
    "feed_off",
    "list_cases",
    "open_case",
    "record_heat",
    "record_look",
    "record_reading",
    "refit",
    "reflow",
    "replace_part",
    "run_test",
    "set_feed",
    "skip",
    "take_off",
    "tell_symptom",
    "tried",
    "undo",
    "view_of",
    "why",
    "work_through",
    "write_up",
]
