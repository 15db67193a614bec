"""Asking, watching and really stopping the process that does the work."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from ui.page import worker as worker_module
from ui.page.worker import Task, Worker, WorkerError

PROGRAM = (sys.executable, str(Path(__file__).with_name("idle_worker.py")))
WAIT_S = 20
LONG_S = 60


@pytest.fixture
def worker():
    made = Worker(PROGRAM)
    yield made
    made.close()


def ask(worker, job="job", kind="check", **about):
    return worker.ask(Task(kind=kind, job=job, about=about))


def until(is_true, what):
    end = time.monotonic() + WAIT_S
    while not is_true():
        assert time.monotonic() < end, what
        time.sleep(0.01)


def is_alive(number):
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_task_is_done_in_a_process_of_its_own(worker, tmp_path):
    ask(worker, touch=str(tmp_path / "mark")).result(WAIT_S)
    number = int((tmp_path / "mark").read_text())
    assert number == worker.process_id != os.getpid()


def test_the_process_is_kept_for_the_next_task(worker):
    ask(worker, a=1).result(WAIT_S)
    first = worker.process_id
    assert ask(worker, a=2).result(WAIT_S) == {"a": 2}
    assert worker.process_id == first


def test_what_goes_on_can_be_watched(worker):
    answer = ask(worker, wait_s=0.5)
    until(lambda: [d.stage for d in worker.doing("job")] == ["begun"], "no stage")
    (doing,) = worker.doing("job")
    assert (doing.kind, doing.done, doing.of) == ("check", 1, 3)
    assert worker.doing("another job") == ()
    answer.result(WAIT_S)
    until(lambda: worker.doing("job") == (), "never ended")


def test_stopping_ends_the_process_at_once(worker, tmp_path):
    mark = tmp_path / "mark"
    answer = ask(worker, wait_s=LONG_S, touch=str(mark))
    until(lambda: [d.stage for d in worker.doing("job")] == ["begun"], "no stage")
    number = worker.process_id
    begun = time.monotonic()
    assert worker.stop("job")
    with pytest.raises(WorkerError, match="Stopped"):
        answer.result(WAIT_S)
    until(lambda: not is_alive(number), "the process goes on")
    assert time.monotonic() - begun < 5
    assert not mark.exists()
    assert "Stopped" in worker.trouble("job")
    assert ask(worker, again=1).result(WAIT_S) == {"again": 1}
    assert worker.trouble("job") == ""


def test_stopping_one_job_leaves_the_others(worker):
    running = ask(worker, job="one", wait_s=0.3)
    waiting = ask(worker, job="two", wait_s=LONG_S)
    assert worker.stop("two")
    with pytest.raises(WorkerError, match="Stopped"):
        waiting.result(WAIT_S)
    assert running.result(WAIT_S) == {"wait_s": 0.3}
    assert not worker.stop("nothing to do with it")


def test_the_same_task_is_not_done_twice(worker):
    assert ask(worker, a=1, wait_s=0.2) is ask(worker, wait_s=0.2, a=1)
    assert ask(worker, a=1, wait_s=0.2) is not ask(worker, a=2)


def test_what_a_person_waits_for_comes_first(worker, tmp_path):
    ask(worker, wait_s=0.3)
    late = ask(worker, kind="tiles", touch=str(tmp_path / "tiles"))
    soon = ask(worker, kind="view", touch=str(tmp_path / "view"))
    soon.result(WAIT_S)
    assert not (tmp_path / "tiles").exists()
    late.result(WAIT_S)


def test_a_process_that_dies_is_told_and_replaced(worker):
    answer = ask(worker, die=True)
    with pytest.raises(WorkerError, match="broke off"):
        answer.result(WAIT_S)
    until(lambda: "broke off" in worker.trouble("job"), "nothing told")
    assert ask(worker, a=1).result(WAIT_S) == {"a": 1}


def test_what_failed_is_not_tried_for_ever_but_again_when_a_person_asks(worker):
    task = Task(kind="view", job="job", about={"die": True})
    assert not worker.has_failed(task)
    with pytest.raises(WorkerError):
        worker.ask(task).result(WAIT_S)
    until(lambda: worker.has_failed(task), "forgotten")
    ask(worker, kind="check").result(WAIT_S)
    assert not worker.has_failed(task)


def test_what_was_stopped_is_not_taken_up_unasked(worker):
    task = Task(kind="view", job="job", about={"wait_s": LONG_S})
    worker.ask(task)
    until(lambda: [d.stage for d in worker.doing("job")] == ["begun"], "no stage")
    worker.stop("job")
    assert worker.has_failed(task)


def test_a_program_that_cannot_be_loaded_is_a_sentence(tmp_path, monkeypatch):
    (tmp_path / "sitecustomize.py").write_text(
        "import sys\nsys.modules['vision.pipeline'] = None\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    worker = Worker()
    try:
        with pytest.raises(WorkerError, match="Install dotward again"):
            ask(worker).result(60)
        number = worker.process_id
        with pytest.raises(WorkerError, match="Install dotward again"):
            ask(worker, kind="view").result(60)
        assert worker.process_id == number
    finally:
        worker.close()


def test_an_error_of_the_work_is_a_sentence(worker):
    with pytest.raises(WorkerError, match="too dark"):
        ask(worker, error="photo: too dark").result(WAIT_S)


def test_a_process_grown_large_is_replaced(worker):
    ask(worker, a=1).result(WAIT_S)
    first = worker.process_id
    ask(worker, memory_mb=worker_module.MAX_MEMORY_MB + 1).result(WAIT_S)
    until(lambda: worker.process_id not in (None, first), "the process stays")
    assert not is_alive(first)


def test_a_process_without_work_is_given_back():
    worker = Worker(PROGRAM, idle_s=0.2)
    try:
        assert worker.process_id is None
        worker.warm()
        until(lambda: worker.process_id is not None, "never started")
        until(lambda: worker.process_id is None, "the process stays")
    finally:
        worker.close()


def test_closing_ends_everything(tmp_path):
    worker = Worker(PROGRAM)
    answer = ask(worker, wait_s=LONG_S)
    until(lambda: worker.process_id is not None, "never started")
    number = worker.process_id
    worker.close()
    until(lambda: not is_alive(number), "the process goes on")
    with pytest.raises(WorkerError):
        answer.result(WAIT_S)


def test_a_process_that_cannot_be_started_fails_one_task_and_no_other(
    worker, monkeypatch
):
    def refuse(*_, **__):
        raise OSError("no more processes")

    with monkeypatch.context() as patch:
        patch.setattr("ui.page.worker.subprocess.Popen", refuse)
        with pytest.raises(WorkerError):
            ask(worker, a=1).result(WAIT_S)
    assert ask(worker, a=2).result(WAIT_S) == {"a": 2}
