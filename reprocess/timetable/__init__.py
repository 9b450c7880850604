"""What is due when, computed from a standing and its workflow; pure, replaced whole per subject at every append.

Rules about time in contact count instants; rules about days count the site's local dates.
"""

from reprocess.timetable.case import for_case
from reprocess.timetable.due import Due, cause_of, is_clocked, late_s, reached
from reprocess.timetable.instrument import for_instrument
from reprocess.timetable.item import for_item
from reprocess.timetable.load import for_load
from reprocess.timetable.lot import for_lot
from reprocess.timetable.person import for_person
from reprocess.timetable.place import for_place
from reprocess.timetable.programme import for_file, for_site
from reprocess.timetable.recall import for_recall
from reprocess.timetable.reviews import for_queue, queue_of
from reprocess.timetable.solution import for_solution

__all__ = [
    "Due",
    "cause_of",
    "for_case",
    "for_file",
    "for_instrument",
    "for_item",
    "for_load",
    "for_lot",
    "for_person",
    "for_place",
    "for_queue",
    "for_recall",
    "for_site",
    "for_solution",
    "is_clocked",
    "late_s",
    "queue_of",
    "reached",
]
