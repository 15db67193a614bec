"""How fast the review queue comes when there are very many jobs.

Every job has a real journal with a decision, half of them a review.  Prints one line
a measurement: name, best, median and worst in milliseconds.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmark.bench_record import LETTERS, report
from ui.record import DECISIONS, Checked, Decided, Opened, PhotoAdded, Reviewed
from ui.record.events import data_of
from ui.record.journal import JOURNAL_NAME, Head, line_of, next_entry
from ui.review import Filter, accept, csv_lines, read_queue, read_rows
from ui.review.agreement import read_agreement

if TYPE_CHECKING:
    from ui.record.events import Event

TECHNICIANS = tuple(f"Technician {number}" for number in range(12))
PARTS = tuple(f"part {number}" for number in range(300))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=100_000)
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where to make the jobs")
    chosen = parser.parse_args()
    print(
        f"python {platform.python_version()}, {os.cpu_count()} cores, "
        f"{chosen.jobs} jobs, seed {chosen.seed}, {sys.platform}"
    )
    with tempfile.TemporaryDirectory(dir=chosen.folder) as place:
        home = Path(place) / "jobs"
        make_jobs(home, chosen.jobs, random.Random(chosen.seed))
        measure(home, chosen.repeats)


def measure(home: Path, repeats: int) -> None:
    waiting = Filter()
    report("index built from nothing", lambda: read_queue(home, waiting), 1)
    report("queue, open, first 100", lambda: read_queue(home, waiting), repeats)
    narrow = Filter(
        show="all",
        kind="stop",
        technician="7",
        part="42",
        since=date(2031, 1, 5),
        until=date(2031, 1, 20),
    )
    report("queue, every filter set", lambda: read_queue(home, narrow), repeats)
    everything = Filter(show="all")
    report("agreement of all", lambda: read_agreement(home, everything), repeats)

    def export() -> None:
        for _ in csv_lines(read_rows(home, everything)):
            pass

    report("all as CSV", export, 1)
    rows = iter(read_queue(home, waiting).rows)

    def accept_and_list() -> None:
        accept(home / next(rows).job, by="bench")
        read_queue(home, waiting)

    report("accept, then the queue", accept_and_list, repeats)


def make_jobs(home: Path, count: int, chance: random.Random) -> None:
    """Write journals without waiting for the disk."""
    for number in range(count):
        letters = "".join(LETTERS[number // 26**power % 26] for power in range(6))
        day = 1 + number % 28
        name = f"203101{day:02}-{letters}"
        (home / name).mkdir(parents=True)
        lines, head = [], Head(count=0, hash="0" * 64)
        for event in events(name, chance):
            at = f"2031-01-{day:02}T12:00:00.000+00:00"
            entry = next_entry(head, event.KIND, data_of(event), at)
            head = Head(count=entry.seq, hash=entry.hash)
            lines.append(line_of(entry))
        (home / name / JOURNAL_NAME).write_bytes(b"".join(lines))
        (home / name / "head.json").write_text(
            f'{{"count":{head.count},"hash":"{head.hash}"}}\n'
        )


def events(name: str, chance: random.Random) -> list[Event]:
    technician, part = chance.choice(TECHNICIANS), chance.choice(PARTS)
    tool, decision = chance.choice(DECISIONS), chance.choice(DECISIONS)
    made: list[Event] = [
        Opened(job=name, technician=technician, part=part, patient="main board")
    ]
    made += [
        PhotoAdded(
            stage=stage,
            sha256=letter * 64,
            suffix=".jpg",
            size_bytes=4_000_000,
            name=f"{stage}.jpg",
            by=technician,
        )
        for stage, letter in (("before", "a"), ("after", "b"))
    ]
    answer = {"format": "dotward.compare/1", "decision": tool, "reasons": []}
    made.append(Checked(photos=(2, 3), answer=answer, tool_version="bench"))
    made.append(
        Decided(decision=decision, by=technician, tool_decision=tool, reason="seen")
    )
    if chance.random() < 0.5:
        made.append(Reviewed(verdict="accepted", by="R", decided=5, decision=decision))
    return made


if __name__ == "__main__":
    main()
