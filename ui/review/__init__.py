"""Review of decisions: the queue, the verdicts, exports.

How far people and tool agree is in ``ui.review.agreement``, which is slower to load.
"""

from ui.review.cautions import Caution, job_caution, row_caution, tool_counts
from ui.review.export import csv_lines, json_lines
from ui.review.queue import KINDS, SHOWS, Filter, Queue, read_queue, read_rows
from ui.review.verdicts import accept, overrule, take_back

__all__ = [
    "KINDS",
    "SHOWS",
    "Caution",
    "Filter",
    "Queue",
    "accept",
    "csv_lines",
    "job_caution",
    "json_lines",
    "overrule",
    "read_queue",
    "read_rows",
    "row_caution",
    "take_back",
    "tool_counts",
]
