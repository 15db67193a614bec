"""How fast a job is written and how fast a long list of jobs comes.

Prints one line a measurement: name, best, median and worst in milliseconds.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from ui.record import (
    Opened,
    Outcome,
    add_event,
    add_photo,
    forget_index,
    list_jobs,
    load_job,
    new_job_name,
    open_job,
)
from ui.record.events import data_of
from ui.record.journal import JOURNAL_NAME, Head, line_of, next_entry

if TYPE_CHECKING:
    from collections.abc import Callable

LETTERS = "abcdefghijklmnopqrstuvwxyz"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=100_000)
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--folder", type=Path, help="where to make the jobs")
    chosen = parser.parse_args()
    print(
        f"python {platform.python_version()}, {os.cpu_count()} cores, "
        f"{chosen.jobs} jobs, {sys.platform}"
    )
    with tempfile.TemporaryDirectory(dir=chosen.folder) as place:
        home = Path(place) / "jobs"
        measure_one_job(home, Path(place), chosen.repeats)
        make_jobs(home, chosen.jobs)
        report("index built from nothing", lambda: list_jobs(home, limit=50), 1)
        report("list, newest 50", lambda: list_jobs(home, limit=50), chosen.repeats)
        report("list, all", lambda: list_jobs(home), chosen.repeats)
        job = open_job(home, opening(new_job_name()))

        def change_and_list() -> None:
            add_event(job, Outcome(worked=True, by="bench"))
            list_jobs(home, limit=50)

        report("one event, then list", change_and_list, chosen.repeats)
        forget_index(home)


def measure_one_job(home: Path, place: Path, repeats: int) -> None:
    job = open_job(home, opening(new_job_name()))
    report("open a job", lambda: open_job(home, opening(new_job_name())), repeats)
    event = Outcome(worked=True, by="bench", text="x" * 4000)
    report("add an event", lambda: add_event(job, event), repeats * 10)
    numbers = iter(range(10_000))

    def photo() -> None:
        path = place / f"{next(numbers)}.jpg"
        path.write_bytes(b"\xff\xd8\xff" + os.urandom(4_000_000))
        add_photo(job, path, stage="side", by="bench")

    report("add a photo of 4 MB (and make it)", photo, repeats)
    report("read a job of some 80 events", lambda: load_job(job), repeats)


def opening(job: str) -> Opened:
    return Opened(job=job, technician="bench", part="24-series", patient="main board")


def make_jobs(home: Path, count: int) -> None:
    """Write folders with one event each, without waiting for the disk."""
    for number in range(count):
        letters = "".join(LETTERS[number // 26**power % 26] for power in range(6))
        name = f"20310101-{letters}"
        data = data_of(opening(name))
        entry = next_entry(Head(count=0, hash="0" * 64), "opened", data, "2031")
        (home / name).mkdir()
        (home / name / JOURNAL_NAME).write_bytes(line_of(entry))


def report(name: str, work: Callable[[], object], repeats: int) -> None:
    times_ms = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times_ms.append(1000 * (time.perf_counter() - start))
    print(
        f"{name}: best {min(times_ms):.1f} ms, median "
        f"{statistics.median(times_ms):.1f} ms, worst {max(times_ms):.1f} ms"
    )


if __name__ == "__main__":
    main()
