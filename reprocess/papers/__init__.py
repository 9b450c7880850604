"""What is printed, as PDF/A: sheets of codes, tags, slips, numbered forms for downtime, labels of released items."""

from __future__ import annotations

from reprocess.papers.forms import form_sheet, numbers_from
from reprocess.papers.printing import as_images, as_pdf
from reprocess.papers.release_label import NotReleased, Released, label_sheet, released
from reprocess.papers.sheets import Sheet, command_sheet, defect_sheet
from reprocess.papers.tags import SIZES, slip_sheet, station_sheet, tag_sheet

__all__ = [
    "SIZES",
    "NotReleased",
    "Released",
    "Sheet",
    "as_images",
    "as_pdf",
    "command_sheet",
    "defect_sheet",
    "form_sheet",
    "label_sheet",
    "numbers_from",
    "released",
    "slip_sheet",
    "station_sheet",
    "tag_sheet",
]
