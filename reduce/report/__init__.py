"""What is told about a draft: the log, the fate of every note, the report, reasons as text, the folder it all goes into.

Every text made here depends on its arguments alone: equal input gives equal bytes.
"""

from reduce.report.compare_text import comparison_text
from reduce.report.facts import report, report_json, verdict
from reduce.report.folder import check_folder, draft_folder, intact, refresh, write_file, write_folder, write_folders
from reduce.report.intake import intake, intake_text
from reduce.report.judgement import breach_row, judgement, judgement_text, load_row, spot_row
from reduce.report.log import decisions_jsonl, notes_jsonl
from reduce.report.reasons import grouped, read_log, select, why_text
from reduce.report.stand_in import tidy

__all__ = [
    "breach_row",
    "check_folder",
    "comparison_text",
    "decisions_jsonl",
    "draft_folder",
    "grouped",
    "intact",
    "intake",
    "intake_text",
    "judgement",
    "judgement_text",
    "load_row",
    "notes_jsonl",
    "read_log",
    "refresh",
    "report",
    "report_json",
    "select",
    "spot_row",
    "tidy",
    "verdict",
    "why_text",
    "write_file",
    "write_folder",
    "write_folders",
]
