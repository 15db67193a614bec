"""Nothing acknowledged is lost, whatever happens to the process or the disk.

Children are forked, really killed with SIGKILL, and really run into a full disk.
"""

from __future__ import annotations

import errno
import os
import random
import resource
import signal
import subprocess
import sys
import time
import traceback
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.unit.record.helpers import make_photo, open_test_job
from ui.record import (
    Corrected,
    Outcome,
    add_event,
    add_photo,
    load_job,
    verify_job,
)
from ui.record.journal import JOURNAL_NAME, read_journal
from vision.errors import RecordError

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="children are made with fork"
)

SEED = 20_310_501
TIMED_KILLS = 80
LONGEST_LIFE_S = 0.12


@contextmanager
def child(work):
    """Run ``work(say)`` in a forked child; ``say(text)`` reaches the parent."""
    read_end, write_end = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.close(read_end)
            write = os.write
            work(lambda text: write(write_end, f"{text}\n".encode()))
            code = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    os.close(write_end)
    with os.fdopen(read_end, "rb") as pipe:
        yield pid, pipe


def wait(pid):
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def acknowledged(pipe):
    """Whole lines only: a line that was cut off was not acknowledged."""
    lines = pipe.read().split(b"\n")[:-1]
    return [tuple(line.decode().split(" ")) for line in lines]


def assert_all_there(job, told):
    journal = read_journal(job)
    held = {(str(entry.seq), entry.hash) for entry in journal.entries}
    assert set(told) <= held
    assert verify_job(job).problems == ()


def busy_work(job, photos):
    """Give a child's work: add events and photos until it is killed."""

    def work(say):
        count = 0
        while True:
            count += 1
            if count % 4 == 0:
                path = photos / f"{os.getpid()}-{count}.jpg"
                path.write_bytes(b"\xff\xd8\xff" + os.urandom(30_000))
                entry = add_photo(job, path, stage="side", by="T")
            else:
                text = "x" * (count * 997 % 9000)
                entry = add_event(job, Outcome(worked=True, by="T", text=text))
            say(f"{entry.seq} {entry.hash}")

    return work


@pytest.mark.slow
def test_kill_at_random_times(home, tmp_path):
    rng = random.Random(SEED)
    photos = tmp_path / "card"
    photos.mkdir()
    told, count = [], 0
    job = open_test_job(home)
    for kill in range(TIMED_KILLS):
        if kill % 20 == 0:
            job, told = open_test_job(home), []
        with child(busy_work(job, photos)) as (pid, pipe):
            time.sleep(rng.uniform(0.001, LONGEST_LIFE_S))
            os.kill(pid, signal.SIGKILL)
            new = acknowledged(pipe)
            assert wait(pid) == -signal.SIGKILL
        told += new
        count += len(new)
        assert_all_there(job, told)
        # The next one can go on at once: the dead one's lock is gone.
        entry = add_event(job, Outcome(worked=True, by="after the kill"))
        told.append((str(entry.seq), entry.hash))
    assert_all_there(job, told)
    assert count > TIMED_KILLS  # the children did get something done


STEPS = ("write", "fsync", "rename", "replace", "open", "mkdir", "ftruncate", "unlink")


def die_at(step_no, *, after):
    """Kill this process at the n-th step that touches the disk.

    A write that is killed has put half of its bytes on the disk.
    """
    left = [step_no]

    def wrapped(name, real):
        def step(*args, **kwargs):
            left[0] -= 1
            if left[0] == 0:
                try:
                    if name == "write":
                        data = bytes(args[1])
                        real(args[0], data[: len(data) if after else len(data) // 2])
                    elif after:
                        real(*args, **kwargs)
                finally:
                    os.kill(os.getpid(), signal.SIGKILL)
            return real(*args, **kwargs)

        return step

    for name in STEPS:
        setattr(os, name, wrapped(name, getattr(os, name)))


@pytest.mark.slow
@pytest.mark.parametrize("after", [False, True], ids=["before the step", "after it"])
@pytest.mark.parametrize("task", ["event", "photo", "torn end", "new job"])
def test_kill_at_every_step(home, tmp_path, task, after):
    """Walk the kill through the task, one system call further each time."""
    photo = make_photo(tmp_path / "card.jpg")
    for step_no in range(1, 200):
        job = open_test_job(home)
        first = add_event(job, Outcome(worked=False, by="T"))
        if task == "torn end":
            with (job / JOURNAL_NAME).open("ab") as journal:
                journal.write(b'{"at":"cut')

        def work(say, job=job, step_no=step_no):
            die_at(step_no, after=after)
            if task == "photo":
                entry = add_photo(job, photo, stage="before", by="T")
            elif task == "new job":
                entry = read_journal(open_test_job(home)).entries[0]
            else:
                entry = add_event(job, Outcome(worked=True, by="T"))
            say(f"{entry.seq} {entry.hash}")

        with child(work) as (pid, pipe):
            told = acknowledged(pipe)
            code = wait(pid)
        if task == "new job":
            for folder in home.glob("2*"):
                assert verify_job(folder).problems == ()
        else:
            assert_all_there(job, [("2", first.hash), *told])
            entry = add_event(job, Outcome(worked=True, by="later"))
            told = [("2", first.hash), *told, (str(entry.seq), entry.hash)]
            assert_all_there(job, told)
        if code == 0:
            assert step_no > 8
            return
        assert code == -signal.SIGKILL
    pytest.fail("the task never came to its end")


def test_two_processes_on_one_job(job):
    """Each adds its own; all are in the chain, none twice."""
    each, names = 25, ("left", "right", "third")

    def work_of(name):
        def work(say):
            for number in range(each):
                entry = add_event(job, Outcome(worked=True, by=name, text=str(number)))
                say(f"{entry.seq} {entry.hash}")

        return work

    with (
        child(work_of(names[0])) as (pid_1, pipe_1),
        child(work_of(names[1])) as (pid_2, pipe_2),
        child(work_of(names[2])) as (pid_3, pipe_3),
    ):
        told = acknowledged(pipe_1) + acknowledged(pipe_2) + acknowledged(pipe_3)
        assert [wait(pid) for pid in (pid_1, pid_2, pid_3)] == [0, 0, 0]
    assert len(told) == each * len(names)
    assert_all_there(job, told)
    outcomes = load_job(job).outcomes
    for name in names:
        said = [noted.event.text for noted in outcomes if noted.event.by == name]
        assert said == [str(number) for number in range(each)]


def test_a_lock_held_too_long_is_a_clear_error(job, monkeypatch):
    monkeypatch.setattr("ui.record.writer.LOCK_WAIT_S", 0.2)
    holder = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys, filelock; lock = filelock.FileLock(sys.argv[1]); "
            "lock.acquire(); print('held', flush=True); sys.stdin.read()",
            str(job / ".lock"),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    try:
        assert holder.stdout.readline() == b"held\n"
        with pytest.raises(RecordError, match="another program has been writing"):
            add_event(job, Outcome(worked=True, by="T"))
    finally:
        holder.communicate()
    add_event(job, Outcome(worked=True, by="T"))
    assert load_job(job).count == 2


@contextmanager
def small_disk(place: Path, *, size: str = "1m"):
    """Mount a real, small file system; skip where that is not allowed."""
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", place],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip(f"no right to mount a small disk: {made.stderr.decode().strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", place], check=True)


def fill(path):
    """Write until the disk takes no more."""
    with path.open("wb", buffering=0) as file:
        while True:
            try:
                file.write(bytes(1024))
            except OSError as error:
                if error.errno == errno.ENOSPC:
                    return
                raise


@pytest.mark.skipif(sys.platform != "linux", reason="mounts a Linux tmpfs")
def test_full_disk(tmp_path):
    """Fill a real disk, byte by byte at the end, then free it again."""
    with small_disk(tmp_path / "disk") as disk:
        job = open_test_job(disk / "jobs")
        told = []
        filler = disk / "filler"
        fill(filler)
        refused = 0
        for _ in range(30):
            text = "y" * random.Random(SEED).randint(4000, 9000)
            try:
                entry = add_event(job, Outcome(worked=True, by="T", text=text))
                told.append((str(entry.seq), entry.hash))
            except RecordError as error:
                refused += 1
                assert "the disk is full; nothing was added" in str(error)  # noqa: PT017
            assert_all_there(job, told)
        assert refused >= 20
        big = tmp_path / "big.jpg"
        big.write_bytes(b"\xff\xd8\xff" + bytes(300_000))
        with pytest.raises(RecordError, match="the disk is full"):
            add_photo(job, big, stage="before", by="T")
        assert list((job / "photos").iterdir()) == []
        with pytest.raises(RecordError, match="the disk is full"):
            open_test_job(disk / "jobs")
        filler.unlink()
        entry = add_photo(job, big, stage="before", by="T")
        assert_all_there(job, [*told, (str(entry.seq), entry.hash)])


def test_write_stopped_halfway_by_a_size_limit(job):
    """The system takes part of a line and refuses the rest."""
    size_bytes = (job / JOURNAL_NAME).stat().st_size

    def work(say):
        limit = size_bytes + 700
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        entry = add_event(job, Outcome(worked=True, by="T", text="fits"))
        say(f"{entry.seq} {entry.hash}")
        try:
            add_event(job, Outcome(worked=True, by="T", text="z" * 5000))
        except RecordError as error:
            say(f"refused {'full' in str(error)}")

    with child(work) as (pid, pipe):
        told = acknowledged(pipe)
        assert wait(pid) == 0
    assert told[1] == ("refused", "True")
    assert_all_there(job, told[:1])
    assert read_journal(job).torn == b""


@pytest.mark.skipif(sys.platform != "linux", reason="mounts a Linux tmpfs")
def test_read_only_disk(tmp_path):
    with small_disk(tmp_path / "disk") as disk:
        job = open_test_job(disk / "jobs")
        photo = make_photo(tmp_path / "card.jpg")
        added = add_photo(job, photo, stage="before", by="T")
        remount = ["mount", "-o", "remount,ro", disk]
        subprocess.run(remount, check=True)
        before = (job / JOURNAL_NAME).read_bytes()
        fix = Corrected(photo=2, what="pin1", value={"corner": 1}, by="T")
        with pytest.raises(RecordError, match="cannot be written to"):
            add_event(job, fix)
        with pytest.raises(RecordError, match="cannot be written to"):
            add_photo(job, make_photo(tmp_path / "b.jpg", 9), stage="after", by="T")
        with pytest.raises(RecordError, match="cannot be written to"):
            open_test_job(disk / "jobs")
        assert (job / JOURNAL_NAME).read_bytes() == before
        assert_all_there(job, [("2", added.hash)])
        assert load_job(job).step == "photos"


@pytest.mark.skipif(
    hasattr(os, "geteuid") and os.geteuid() == 0, reason="root ignores permissions"
)
def test_read_only_folder(job):
    job.chmod(0o555)
    try:
        with pytest.raises(RecordError, match="cannot be written to"):
            add_event(job, Outcome(worked=True, by="T"))
    finally:
        job.chmod(0o755)
    assert load_job(job).count == 1
