"""What is due when, computed from a standing and its workflow; pure, replaced whole per subject at every append.

Rules about time in contact count instants; rules about days count the site's local dates.
"""

from reprocess.timetable.due import Due, cause_of, is_clocked, late_s, reached
from reprocess.timetable.instrument import for_instrument
from reprocess.timetable.item import for_item
from reprocess.timetable.person import for_person
from reprocess.timetable.solution import for_solution

__all__ = [
    "Due",
    "cause_of",
    "for_instrument",
    "for_item",
    "for_person",
    "for_solution",
    "is_clocked",
    "late_s",
    "reached",
]
