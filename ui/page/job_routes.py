"""The routes of a job: read it, send photos, judge, correct, decide, seal."""

from __future__ import annotations

import asyncio
import contextlib
from typing import TYPE_CHECKING, Any, Literal, cast

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool

from ui.page.bodies import (
    InputError,
    incoming_file,
    number_of,
    read_json,
    row_of,
    text_of,
)
from ui.page.context import PageContext
from ui.page.corrections import correction_of
from ui.page.job_view import doing_view, job_view, missing_pictures
from ui.page.worker import Task, WorkerError
from ui.plain_text import visible
from ui.record import (
    Decided,
    Withdrawn,
    add_event,
    add_photo,
    job_folder,
    load_job,
)
from ui.record.limits import limits_in_force
from vision.errors import PhotoError, RecordError

if TYPE_CHECKING:
    from pathlib import Path

    from ui.record import JobState
    from ui.record.events import Decision, Role, Stage

WHO = "Say who you are first: fill in the field “You”."
Json = dict[str, Any]


def job_router(context: PageContext) -> APIRouter:
    """Give the routes below ``/api/job``.

    Parameters
    ----------
    context : PageContext

    Returns
    -------
    APIRouter
    """
    routes = JobRoutes(context)
    router = APIRouter(prefix="/api/job/{job}")
    router.add_api_route("", routes.read, methods=["GET"])
    router.add_api_route("/status", routes.status, methods=["GET"])
    router.add_api_route("/photo", routes.photo, methods=["POST"])
    router.add_api_route("/warm", routes.warm, methods=["POST"])
    router.add_api_route("/judge", routes.judge, methods=["POST"])
    router.add_api_route("/stop", routes.stop, methods=["POST"])
    router.add_api_route("/correct", routes.correct, methods=["POST"])
    router.add_api_route("/withdraw", routes.withdraw, methods=["POST"])
    router.add_api_route("/decide", routes.decide, methods=["POST"])
    router.add_api_route("/seal", routes.seal, methods=["POST"])
    return router


class JobRoutes:
    """One method a route; each reads the record anew and keeps nothing."""

    def __init__(self, context: PageContext) -> None:
        self._context = context
        self._sending = asyncio.Semaphore(4)

    async def read(self, job: str) -> Json:
        """Give the whole job, and have its pictures made."""
        state = await self._load(job)
        self._want_pictures(state)
        limits = await self._limits()
        view = await run_in_threadpool(job_view, state, self._context.cache, limits)
        return {**view, "limits": limits, **self._going_on(job)}

    async def status(self, job: str) -> Json:
        """Say what is going on, in few words: screens ask this again and again."""
        state = await self._load(job)
        said = {"head": state.head, "count": state.count}
        return {**said, "limits": await self._limits(), **self._going_on(job)}

    async def warm(self, job: str) -> Json:
        """Get ready for a photo that is about to come."""
        self._folder(job)
        self._context.worker.warm()
        return {}

    async def photo(
        self,
        request: Request,
        job: str,
        stage: str,
        role: str = "patient",
        name: str = "photo",
        by: str = "",
    ) -> Json:
        """Take a photo in and have it judged; the query may name its ``leads``."""
        folder = self._folder(job)
        row = row_of(request.query_params.get("leads", ""))
        who = text_of({"by": by}, "by", needed=WHO)
        called = text_of({"name": name}, "name") or "photo"
        async with (
            self._sending,
            incoming_file(request, self._context.incoming) as path,
        ):
            try:
                seq = await run_in_threadpool(
                    _add, folder, path, (stage, role, row), called[:500], who
                )
            except PhotoError as error:  # says the name it has here
                said = str(error).replace(path.name, called[:500])
                raise PhotoError(said) from error
        state = await self._load(job)
        self._want_pictures(state)
        self._judge(folder)
        return {"seq": seq, "head": state.head, "count": state.count}

    async def judge(self, job: str, limits: Literal["any", "now"] = "any") -> Json:
        """Have judged what has no answer yet, or none by the limits of now."""
        self._judge(self._folder(job), by_limits=limits == "now")
        return {}

    async def stop(self, job: str) -> Json:
        """Stop the work on this job; its process is ended."""
        folder = self._folder(job)
        return {"stopped": self._context.worker.stop(folder.name)}

    async def correct(self, job: str, request: Request) -> Json:
        """Record what was set right by hand and judge what rests on it anew."""
        folder = self._folder(job)
        body = await read_json(request)
        state = await self._load(job)
        by = text_of(body, "by", needed=WHO)
        fixes = body.get("fixes")
        if not isinstance(fixes, list) or not fixes:
            message = "Nothing was changed. Drag a corner or mark pin 1 first."
            raise InputError(message)
        photo = number_of(body, "photo")
        reason = text_of(body, "reason")
        events = [
            correction_of(state, self._context.cache, photo, fix, by=by, reason=reason)
            for fix in fixes
        ]
        for event in events:
            await run_in_threadpool(add_event, folder, event)
        self._judge(folder)
        return {}

    async def withdraw(self, job: str, request: Request) -> Json:
        """Take back a correction or a decision; the event itself stays."""
        folder = self._folder(job)
        body = await read_json(request)
        event = Withdrawn(
            event=number_of(body, "event"),
            by=text_of(body, "by", needed=WHO),
            reason=text_of(body, "reason"),
        )
        await run_in_threadpool(add_event, folder, event)
        self._judge(folder)
        return {}

    async def decide(self, job: str, request: Request) -> Json:
        """Record what a person decides, knowing what the tool says now."""
        folder = self._folder(job)
        body = await read_json(request)
        state = await self._load(job)
        if body.get("head") != state.head:
            message = (
                "Something was added to the job since you read it. Read the answer "
                "again, then decide."
            )
            raise RecordError(message)
        decision = text_of(body, "decision", needed="Choose what you decide.")
        event = Decided(
            decision=cast("Decision", decision),  # refused by the event itself
            by=text_of(body, "by", needed=WHO),
            tool_decision=state.tool_decision,
            reason=text_of(body, "reason"),
        )
        await run_in_threadpool(add_event, folder, event)
        return {}

    async def seal(self, job: str, request: Request) -> Json:
        """Write the report and close the job."""
        folder = self._folder(job)
        by = text_of(await read_json(request), "by", needed=WHO)
        about = {"folder": str(folder), "by": by}
        asked = self._context.worker.ask(
            Task(kind="seal", job=folder.name, about=about)
        )
        return {"seq": await asyncio.wrap_future(asked)}

    def _going_on(self, job: str) -> Json:
        worker = self._context.worker
        return {
            "doing": doing_view(worker.doing(job)),
            "trouble": visible(worker.trouble(job)),
        }

    def _folder(self, job: str) -> Path:
        return job_folder(self._context.home, job)

    async def _load(self, job: str) -> JobState:
        return await run_in_threadpool(load_job, self._folder(job))

    async def _limits(self) -> dict[str, str]:
        return await run_in_threadpool(limits_in_force, self._context.home)

    def _judge(self, folder: Path, *, by_limits: bool = False) -> None:
        about: Json = {"folder": str(folder)}
        if by_limits:
            about["by_limits"] = True
        asked = self._context.worker.ask(
            Task(kind="check", job=folder.name, about=about)
        )
        asked.add_done_callback(_let_go)

    def _want_pictures(self, state: JobState) -> None:
        folder = self._folder(state.job)
        for wanted in missing_pictures(folder, state, self._context.cache):
            task = Task(job=state.job, **wanted)
            if not self._context.worker.has_failed(task):
                self._context.worker.ask(task).add_done_callback(_let_go)


def _add(
    folder: Path,
    path: Path,
    place: tuple[str, str, tuple[int, ...]],
    name: str,
    by: str,
) -> int:
    """Add a photo; one that stands for the same stage already is replaced by it."""
    stage, role, leads = cast("Stage", place[0]), cast("Role", place[1]), place[2]
    for is_last in (False, True):
        old = load_job(folder).photo(stage, role, leads=leads)
        try:
            return add_photo(
                folder,
                path,
                stage=stage,
                role=role,
                by=by,
                name=name,
                replaces=None if old is None else old.seq,
                leads=leads,
            ).seq
        except RecordError:
            # Another photo of this stage came in between: then stand for that one.
            new = load_job(folder).photo(stage, role, leads=leads)
            if is_last or (new and new.seq) == (old and old.seq):
                raise
    raise AssertionError


def _let_go(asked: Any) -> None:
    """Nobody waits for this answer: it is in the record, and its failure is told."""
    with contextlib.suppress(WorkerError, asyncio.CancelledError):
        asked.result()
