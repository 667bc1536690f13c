"""One repair as facts: events, and the pure fold that makes the case of them."""

from ohmwright.casebook.codec import event_from_json, happening_from_json, json_of, value_from_json
from ohmwright.casebook.events import Amended, CaseOpened, Entry, Event, Happening, Undone
from ohmwright.casebook.fold import Casebook, Orphan, casebook_after, casebook_of, check_entry, facts_of
from ohmwright.casebook.timeline import Counted

__all__ = [
    "Amended",
    "CaseOpened",
    "Casebook",
    "Counted",
    "Entry",
    "Event",
    "Happening",
    "Orphan",
    "Undone",
    "casebook_after",
    "casebook_of",
    "check_entry",
    "event_from_json",
    "facts_of",
    "happening_from_json",
    "json_of",
    "value_from_json",
]
