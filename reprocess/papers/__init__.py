"""Sheets that are printed: command sheets, defect sheets, item tags and numbered forms for downtime, as PDF/A."""

from __future__ import annotations

from reprocess.papers.printing import as_images, as_pdf
from reprocess.papers.sheets import Sheet, command_sheet, defect_sheet, form_sheet, tag_sheet

__all__ = ["Sheet", "as_images", "as_pdf", "command_sheet", "defect_sheet", "form_sheet", "tag_sheet"]
