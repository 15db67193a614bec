"""The process that decodes and judges, seen from the page: ask, watch, stop.

Long work runs in a process of its own, so that stopping it is real, a file that
breaks a decoder breaks nothing else, and its memory goes back when it ends.  Tasks
and words cross as JSON lines; what the worker finds out it writes into the record.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import subprocess
import sys
import threading
import time
from concurrent.futures import Future, InvalidStateError
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from vision.errors import VisionError

ROOT = Path(__file__).resolve().parents[2]
IDLE_S = 180.0
"""A worker without work for this long is ended; starting one takes about 2 s."""
MAX_MEMORY_MB = 520.0
"""Above this the worker is replaced as soon as nothing waits."""
KINDS = ("view", "check", "pair", "report", "seal", "tiles")
"""Kinds of tasks, the most urgent first."""


class WorkerError(VisionError):
    """The work was stopped or its process broke down; nothing recorded is lost."""

    code = "worker"


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to be done for a job.  ``about`` is passed on as it is."""

    kind: str
    job: str
    about: dict[str, Any] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """Two tasks with the same key are one."""
        return json.dumps([self.kind, self.job, self.about], sort_keys=True)


@dataclass(slots=True, kw_only=True)
class _Asked:
    task: Task
    number: int
    answer: Future[Any]
    stage: str = ""
    done: int = 0
    of: int = 0
    started_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Doing:
    """What is going on: ``stage`` is a word of the task's own, "" while it waits.

    Of ``of`` steps ``done`` are behind it; 0 of 0 where they are not counted.
    """

    kind: str
    job: str
    stage: str
    done: int
    of: int
    since_s: float


class Worker:
    """One process that works off tasks one by one, urgent kinds first.

    Parameters
    ----------
    command : tuple of str, optional
        What to start instead of the worker of this program.
    idle_s : float, optional
        Seconds without work after which the process is ended.
    """

    def __init__(
        self, command: tuple[str, ...] | None = None, *, idle_s: float = IDLE_S
    ) -> None:
        self._command = command or (sys.executable, "-m", "ui.page.worker_main")
        self._idle_s = idle_s
        self._change = threading.Condition()
        self._numbers = itertools.count(1)
        self._waiting: list[_Asked] = []
        self._running: _Asked | None = None
        self._process: subprocess.Popen[str] | None = None
        self._is_closed = False
        self._wanted_until_s = 0.0
        self._trouble: dict[str, str] = {}
        self._failed: set[str] = set()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def ask(self, task: Task) -> Future[Any]:
        """Have a task done; a task that waits or runs already is not done twice.

        Parameters
        ----------
        task : Task

        Returns
        -------
        Future
            Holds the answer, or a ``VisionError`` with a sentence.
        """
        with self._change:
            asked = next((a for a in self._all() if a.task.key == task.key), None)
            if asked is None:
                asked = _Asked(task=task, number=next(self._numbers), answer=Future())
                self._waiting.append(asked)
                if task.kind == "check":
                    self._trouble.pop(task.job, None)
                    self._failed.clear()
                self._change.notify_all()
            return asked.answer

    def warm(self) -> None:
        """Have the process ready, for a photo is about to come."""
        with self._change:
            self._wanted_until_s = time.monotonic() + self._idle_s
            self._change.notify_all()

    def doing(self, job: str) -> tuple[Doing, ...]:
        """Tell what runs and waits for a job.

        Parameters
        ----------
        job : str
            Job number.

        Returns
        -------
        tuple of Doing
            What runs first.
        """
        now = time.monotonic()
        with self._change:
            return tuple(
                Doing(
                    kind=asked.task.kind,
                    job=job,
                    stage=asked.stage,
                    done=asked.done,
                    of=asked.of,
                    since_s=0.0 if asked.started_s is None else now - asked.started_s,
                )
                for asked in self._all()
                if asked.task.job == job
            )

    def trouble(self, job: str) -> str:
        """Say what went wrong with the last judging of a job.

        Parameters
        ----------
        job : str
            Job number.

        Returns
        -------
        str
            A sentence; empty where nothing did.
        """
        with self._change:
            return self._trouble.get(job, "")

    def has_failed(self, task: Task) -> bool:
        """Tell whether a task failed or was stopped, and nothing was judged since.

        Parameters
        ----------
        task : Task
            What a screen would like done once more.

        Returns
        -------
        bool
            True where asking again, unasked by a person, could go on for ever.
        """
        with self._change:
            return task.key in self._failed

    def stop(self, job: str) -> bool:
        """Stop everything for a job; a process at work on it is killed.

        Parameters
        ----------
        job : str
            Job number.

        Returns
        -------
        bool
            Whether there was anything to stop.
        """
        with self._change:
            dropped = [a for a in self._waiting if a.task.job == job]
            self._waiting = [a for a in self._waiting if a.task.job != job]
            is_running = self._running is not None and self._running.task.job == job
            if is_running and self._running is not None:
                dropped.append(self._running)
                self._kill()
            if any(asked.task.kind == "check" for asked in dropped):
                self._trouble[job] = _STOPPED
            self._failed.update(asked.task.key for asked in dropped)
            for asked in dropped:
                _settle(asked.answer, WorkerError(_STOPPED))
        return bool(dropped)

    @property
    def process_id(self) -> int | None:
        """Number of the process, None while there is none."""
        process = self._process
        return process.pid if process and process.poll() is None else None

    def close(self) -> None:
        """End the process and take no more work."""
        with self._change:
            self._is_closed = True
            for asked in self._all():
                _settle(asked.answer, WorkerError(_STOPPED))
            self._waiting.clear()
            self._kill(is_read=self._running is not None)
            self._change.notify_all()
        self._thread.join(timeout=5)

    def _all(self) -> list[_Asked]:
        running = [self._running] if self._running else []
        return [*running, *self._waiting]

    def _serve(self) -> None:
        while True:
            asked = self._next()
            if asked is None:
                return
            try:
                outcome: Any = self._done(asked)
            except WorkerError as error:
                outcome = error
            except (OSError, ValueError):  # no process, or its pipes were closed
                outcome = WorkerError(_BROKE)
            with self._change:
                self._running = None
                if isinstance(outcome, WorkerError):
                    self._failed.add(asked.task.key)
                is_check = asked.task.kind == "check" and not asked.answer.done()
                if is_check and isinstance(outcome, WorkerError):
                    self._trouble[asked.task.job] = str(outcome)
            _settle(asked.answer, outcome)

    def _next(self) -> _Asked | None:
        """Wait for work; meanwhile start or end the process as it is wanted."""
        with self._change:
            while not self._is_closed:
                if self._waiting:
                    order = {kind: place for place, kind in enumerate(KINDS)}
                    asked = min(
                        self._waiting, key=lambda a: (order[a.task.kind], a.number)
                    )
                    self._waiting.remove(asked)
                    self._running = asked
                    asked.started_s = time.monotonic()
                    return asked
                left_s = self._wanted_until_s - time.monotonic()
                if left_s <= 0:
                    self._kill(is_read=False)
                    self._change.wait()
                else:
                    with contextlib.suppress(OSError):  # told when work is asked for
                        self._start()
                    self._change.wait(left_s)
            return None

    def _start(self) -> subprocess.Popen[str]:
        if self._process is None or self._process.poll() is not None:
            environment = {**os.environ, "PYTHONPATH": _search_path()}
            self._process = subprocess.Popen(
                self._command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                env=environment,
            )
        return self._process

    def _done(self, asked: _Asked) -> Any:
        """Hand a task to the process and follow it to its end."""
        with self._change:
            if self._is_closed or asked.answer.done():
                raise WorkerError(_STOPPED)
            process = self._start()
            self._wanted_until_s = time.monotonic() + self._idle_s
        task = asked.task
        line = {"kind": task.kind, "job": task.job, "about": task.about}
        with contextlib.suppress(OSError, ValueError):  # the end of its answers tells
            print(json.dumps(line), file=process.stdin, flush=True)
        answers = process.stdout
        answer = self._follow(asked, answers) if answers is not None else None
        with self._change:
            self._wanted_until_s = time.monotonic() + self._idle_s
        if answer is None:
            with self._change:
                if self._process is process:  # it ended by itself
                    self._kill()
            raise WorkerError(_BROKE)
        if answer.get("memory_mb", 0.0) > MAX_MEMORY_MB:
            with self._change:
                if not self._waiting:
                    self._kill(is_read=False)
        if "error" in answer:
            raise WorkerError(str(answer["error"]))
        return answer.get("done")

    def _follow(self, asked: _Asked, answers: IO[str]) -> dict[str, Any] | None:
        for line in answers:
            said: dict[str, Any] = json.loads(line)
            if "stage" in said:
                asked.stage = str(said["stage"])
                asked.done, asked.of = int(said["done"]), int(said["of"])
            else:
                return said
        answers.close()  # the process has ended
        return None

    def _kill(self, *, is_read: bool = True) -> None:
        """End the process; ``is_read`` where a thread still reads its answers."""
        process = self._process
        self._process = None
        if process is None:
            return
        process.kill()
        process.wait()
        streams = [process.stdin] if is_read else [process.stdin, process.stdout]
        for stream in streams:
            with contextlib.suppress(OSError):
                if stream is not None:
                    stream.close()


_STOPPED = (
    "Stopped. The photos and every answer recorded so far are safe. Press Judge "
    "again when you want to go on."
)
_BROKE = (
    "The work broke off: its process ended by itself, perhaps for want of memory. "
    "What was recorded is safe. Press Judge again; if it breaks off once more, take "
    "the photo again or make it smaller."
)


def _search_path() -> str:
    """Let the process find this very program, installed or not."""
    old = os.environ.get("PYTHONPATH")
    return os.pathsep.join([str(ROOT), *([old] if old else [])])


def _settle(answer: Future[Any], outcome: Any) -> None:
    with contextlib.suppress(InvalidStateError):  # stopped meanwhile
        if isinstance(outcome, Exception):
            answer.set_exception(outcome)
        else:
            answer.set_result(outcome)
