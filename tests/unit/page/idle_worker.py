"""A stand-in for the worker's process, for tests of what is around it.

Run as a program it answers tasks as the real one does, without looking at anything.
"""

from __future__ import annotations

import json
import os
import sys
import time
from concurrent.futures import Future
from pathlib import Path


class IdleWorker:
    """Takes tasks and never does them; tests settle them by hand."""

    def __init__(self):
        self.asked = []
        self.stopped = []
        self.warmed = 0
        self.said = ""
        self.failed = ()

    def ask(self, task):
        answer = Future()
        self.asked.append((task, answer))
        return answer

    def warm(self):
        self.warmed += 1

    def doing(self, job):
        return ()

    def trouble(self, job):
        return self.said

    def has_failed(self, task):
        return task.kind in self.failed

    def stop(self, job):
        self.stopped.append(job)
        return True

    @property
    def kinds(self):
        return [task.kind for task, _ in self.asked]


def _serve():
    for line in sys.stdin:
        about = json.loads(line)["about"]
        _say({"stage": "begun", "done": 1, "of": 3})
        if about.get("die"):
            os._exit(3)
        time.sleep(about.get("wait_s", 0))
        if "touch" in about:
            Path(about["touch"]).write_text(str(os.getpid()), encoding="utf-8")
        said = {"error": about["error"]} if "error" in about else {"done": about}
        _say({**said, "memory_mb": about.get("memory_mb", 1)})


def _say(line):
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    _serve()
