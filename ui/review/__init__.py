"""Review of decisions: the queue, the verdicts, how far people and tool agree."""

from ui.review.agreement import (
    PAIRS,
    Agreement,
    OutcomeCount,
    PairAgreement,
    read_agreement,
)
from ui.review.export import csv_lines, json_lines
from ui.review.queue import KINDS, SHOWS, Filter, Queue, read_queue, read_rows
from ui.review.verdicts import accept, overrule, take_back

__all__ = [
    "KINDS",
    "PAIRS",
    "SHOWS",
    "Agreement",
    "Filter",
    "OutcomeCount",
    "PairAgreement",
    "Queue",
    "accept",
    "csv_lines",
    "json_lines",
    "overrule",
    "read_agreement",
    "read_queue",
    "read_rows",
    "take_back",
]
