"""The process that decodes and judges: reads tasks, does them, says how it went.

Started by ``ui.page.worker``.  It ends as soon as the page that started it is gone.
"""

from __future__ import annotations

import ctypes
import json
import logging
import os
import queue
import sys
import threading
from pathlib import Path
from typing import IO, Any

from vision.errors import VisionError

log = logging.getLogger("dotward.worker")


def main() -> None:
    """Work off the tasks that come in as JSON lines until there are no more."""
    # What a library prints must not get among the answers.
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    logging.basicConfig(level=logging.CRITICAL, stream=sys.stderr)
    tasks: queue.SimpleQueue[str] = queue.SimpleQueue()
    threading.Thread(target=_read, args=(tasks,), daemon=True).start()
    broken = _prepared()
    while True:
        said = json.loads(tasks.get())
        outcome = {"error": broken} if broken else _outcome(said, answers)
        _say(answers, {**outcome, "memory_mb": _memory_mb()})


def _prepared() -> str:
    """Load what the tasks need; say what is wrong where that fails."""
    try:
        from ui.page.tasks import prepare  # noqa: PLC0415

        prepare()
    except VisionError as error:
        return str(error)
    except Exception as error:  # every task is then answered with this
        log.exception("the tasks cannot be loaded")
        return (
            f"The program cannot be loaded ({type(error).__name__}: {error}). Install "
            "dotward again. Photos sent meanwhile are kept and judged later."
        )
    return ""


def _read(tasks: queue.SimpleQueue[str]) -> None:
    for line in sys.stdin:
        tasks.put(line)
    # The page has gone, whatever is being done: nobody waits for it any more.
    os._exit(0)


def _outcome(said: dict[str, Any], answers: IO[str]) -> dict[str, Any]:
    def tell(stage: str, done: int = 0, of: int = 0) -> None:
        _say(answers, {"stage": stage, "done": done, "of": of})

    try:
        # Loaded here, so that a program that cannot be loaded is told in a sentence.
        from ui.page.tasks import TASKS  # noqa: PLC0415

        return {"done": TASKS[said["kind"]](said["about"], tell)}
    except VisionError as error:
        return {"error": str(error)}
    except MemoryError:
        return {"error": "There was not enough memory for it. Make the photo smaller."}
    except Exception as error:  # one task must not end the others
        log.exception("%s: not foreseen", said["kind"])
        message = f"Something went wrong that we did not foresee ({error})."
        return {"error": message}


def _say(answers: IO[str], line: dict[str, Any]) -> None:
    print(json.dumps(line), file=answers, flush=True)


def _memory_mb() -> float:
    """Give memory back to the system and say how much is still held; 0 if unknown."""
    try:
        ctypes.CDLL(None).malloc_trim(0)
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
    except (AttributeError, OSError, TypeError, ValueError):
        return 0.0


if __name__ == "__main__":
    main()
