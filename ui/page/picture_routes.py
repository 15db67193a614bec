"""The routes of pictures and reports: files out of the cache, nothing decoded here."""

from __future__ import annotations

import asyncio
import html
from typing import TYPE_CHECKING

from fastapi import APIRouter
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.concurrency import run_in_threadpool

from ui.page.context import PageContext
from ui.page.pictures import picture_file
from ui.page.worker import Task
from ui.plain_text import visible
from ui.record import job_folder, load_job
from ui.record.seal import REPORT_FOLDER
from vision.errors import VisionError

if TYPE_CHECKING:
    from pathlib import Path

KINDS = {".html": "text/html", ".pdf": "application/pdf"}


def picture_router(context: PageContext) -> APIRouter:
    """Give the routes of pictures and reports.

    Parameters
    ----------
    context : PageContext

    Returns
    -------
    APIRouter
    """
    router = APIRouter()

    async def picture(job: str, key: str, name: str) -> Response:
        """Serve the view or a tile of a picture; tiles may be made only now."""
        job_folder(context.home, job)
        path = await run_in_threadpool(picture_file, context.cache, key, name)
        if path is None:
            return JSONResponse({"message": "No such picture."}, status_code=404)
        # The name follows from the content, so it never changes.
        headers = {"cache-control": "private, max-age=86400, immutable"}
        return FileResponse(path, media_type="image/jpeg", headers=headers)

    async def report_html(job: str) -> Response:
        return await _report(context, job, ".html")

    async def report_pdf(job: str) -> Response:
        return await _report(context, job, ".pdf")

    router.add_api_route("/api/job/{job}/picture/{key}/{name}", picture)
    router.add_api_route("/job/{job}/report", report_html)
    router.add_api_route("/job/{job}/report.pdf", report_pdf)
    return router


async def _report(context: PageContext, job: str, suffix: str) -> Response:
    """Give the sealed report, or one of the job as it stands."""
    try:
        folder = job_folder(context.home, job)
        state = await run_in_threadpool(load_job, folder)
        sealed = (
            _sealed_report(folder, state.seals[-1].event.reports, suffix)
            if (state.seals)
            else None
        )
        path = sealed or context.cache / "reports" / f"{state.head[:32]}{suffix}"
        if not path.is_file():
            path.parent.mkdir(parents=True, exist_ok=True)
            about = {"folder": str(folder), "out": str(path.with_suffix(""))}
            asked = context.worker.ask(Task(kind="report", job=job, about=about))
            await asyncio.wrap_future(asked)
    except VisionError as error:
        sentence = html.escape(visible(str(error)))
        return HTMLResponse(f"<!doctype html><p>{sentence}</p>", status_code=409)
    headers = {"cache-control": "no-store"}
    name = f"dotward-{job}{suffix}"
    return FileResponse(
        path,
        media_type=KINDS[suffix],
        headers=headers,
        filename=name,
        content_disposition_type="inline",
    )


def _sealed_report(folder: Path, reports: dict[str, str], suffix: str) -> Path | None:
    for name in reports:
        path = folder / REPORT_FOLDER / name.replace("/", "_")
        if path.suffix == suffix and path.is_file():
            return path
    return None
