"""The Review screen: its queue, verdicts, figures and exports as routes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import gradio as gr
from fastapi import APIRouter, Request
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool

from ui.page.bodies import number_of, read_json, text_of
from ui.page.review_view import (
    agreement_view,
    queue_view,
    reviews_view,
    row_view,
    wanted_of,
)
from ui.record import job_folder, load_job
from ui.record.index import summary_of
from ui.review import (
    accept,
    csv_lines,
    json_lines,
    overrule,
    read_queue,
    read_rows,
    take_back,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from ui.page.context import PageContext
    from ui.record import Entry
    from ui.record.events import Decision

Json = dict[str, Any]
PAGE_ROWS = 60
WHO = "Say who you are first: fill in the field “Reviewer”."
SAW = "Say what you saw: overruling needs a reason."
EXPORTS = {
    "csv": (csv_lines, "text/csv; charset=utf-8"),
    "jsonl": (json_lines, "application/jsonl"),
}


def build(context: PageContext) -> None:
    """Build the screen inside a Gradio page; its script draws the rest.

    Parameters
    ----------
    context : PageContext
        Not needed here: everything shown follows from the record.
    """
    del context
    with gr.Column(elem_id="dw-review"):
        gr.Textbox(visible=False)


def router(context: PageContext) -> APIRouter:
    """Give the routes that only this screen needs.

    Parameters
    ----------
    context : PageContext
        Says where jobs lie.

    Returns
    -------
    APIRouter
        Everything below ``/api/review``.
    """
    routes = ReviewRoutes(context.home)
    api = APIRouter(prefix="/api/review")
    api.add_api_route("/queue", routes.queue, methods=["GET"])
    api.add_api_route("/agreement", routes.agreement, methods=["GET"])
    for form in EXPORTS:
        api.add_api_route(f"/queue.{form}", routes.export, methods=["GET"])
    api.add_api_route("/job/{job}", routes.read, methods=["GET"])
    api.add_api_route("/job/{job}/accept", routes.accept, methods=["POST"])
    api.add_api_route("/job/{job}/overrule", routes.overrule, methods=["POST"])
    api.add_api_route("/job/{job}/undo", routes.undo, methods=["POST"])
    return api


class ReviewRoutes:
    """One method a route; each reads the record anew and keeps nothing."""

    def __init__(self, home: Path) -> None:
        self._home = home

    async def queue(self, request: Request) -> Json:
        """Give a part of the queue and all counts."""
        asked = request.query_params
        after = (asked.get("after_at", ""), asked.get("after_job", ""))
        found = await run_in_threadpool(
            read_queue,
            self._home,
            wanted_of(asked),
            limit=PAGE_ROWS,
            after=after if after[1] else None,
        )
        return queue_view(found)

    async def agreement(self, request: Request) -> Json:
        """Give the figures over the jobs that the filters leave."""
        # The statistics are slow to load and only this route needs them.
        from ui.review.agreement import read_agreement  # noqa: PLC0415

        wanted = wanted_of(request.query_params)
        return agreement_view(
            await run_in_threadpool(read_agreement, self._home, wanted)
        )

    async def export(self, request: Request) -> StreamingResponse:
        """Give the jobs that the filters leave as a file."""
        form = request.url.path.rpartition(".")[2]
        lines, media_type = EXPORTS[form]
        rows = read_rows(self._home, wanted_of(request.query_params))
        headers = {
            "content-disposition": f'attachment; filename="dotward-queue.{form}"',
            "cache-control": "no-store",
        }
        return StreamingResponse(lines(rows), media_type=media_type, headers=headers)

    async def read(self, job: str) -> Json:
        """Give what was said of a job's decision."""
        state = await run_in_threadpool(load_job, self._folder(job))
        return reviews_view(state)

    async def accept(self, job: str, request: Request) -> Json:
        """Record that the reviewer agrees."""
        return await self._record(job, request, _accept)

    async def overrule(self, job: str, request: Request) -> Json:
        """Record that the reviewer decides otherwise."""
        return await self._record(job, request, _overrule)

    async def undo(self, job: str, request: Request) -> Json:
        """Take a review back by a further event."""
        return await self._record(job, request, _undo)

    async def _record(
        self, job: str, request: Request, act: Callable[[Path, Json, str], Entry]
    ) -> Json:
        folder, body = self._folder(job), await read_json(request)
        by = text_of(body, "by", needed=WHO)
        entry = await run_in_threadpool(act, folder, body, by)
        state = await run_in_threadpool(load_job, folder)
        return {"seq": entry.seq, "row": row_view(summary_of(state))}

    def _folder(self, job: str) -> Path:
        return job_folder(self._home, job)


def _accept(folder: Path, body: Json, by: str) -> Entry:
    decided, reason = number_of(body, "decided"), text_of(body, "reason")
    return accept(folder, by=by, decided=decided, reason=reason)


def _overrule(folder: Path, body: Json, by: str) -> Entry:
    decided = number_of(body, "decided")
    decision = text_of(body, "decision", needed="Choose what holds instead.")
    reason = text_of(body, "reason", needed=SAW)
    holds = cast("Decision", decision)  # refused by the event itself
    return overrule(folder, holds, by=by, decided=decided, reason=reason)


def _undo(folder: Path, body: Json, by: str) -> Entry:
    event, reason = number_of(body, "event"), text_of(body, "reason")
    return take_back(folder, by=by, event=event, reason=reason)
