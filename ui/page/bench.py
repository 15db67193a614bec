"""The Bench screen: the form that opens a job; the rest is drawn from the record."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import gradio as gr
from fastapi import APIRouter, Query
from starlette.concurrency import run_in_threadpool

from ui.pair_words import DECISION_STATE, DECISION_WORDS
from ui.plain_text import visible
from ui.record import Opened, list_jobs, new_job_name, open_job
from vision.errors import VisionError
from vision.package_names import package_names
from vision.pinouts import pinouts

if TYPE_CHECKING:
    from ui.page.context import PageContext

RECENT = 12
MOST = 100_000
NEEDED = {
    "by": "Say who you are: the field “You” is empty.",
    "part": "Name the chip that is moved: the field “Chip” is empty.",
    "patient": "Name the failed board: the field “Board” is empty.",
}


def build(context: PageContext) -> None:
    """Build the screen inside a Gradio page.

    Parameters
    ----------
    context : PageContext
    """

    def open_it(by: str, part: str, patient: str, donor: str, asked: str) -> Any:
        return open_a_job(
            context, by=by, part=part, patient=patient, donor=donor, asked=asked
        )

    with (
        gr.Column(elem_id="dw-bench"),
        gr.Column(elem_id="dw-new-job", elem_classes="dw-new"),
    ):
        by = gr.Textbox(label="You", max_length=120, elem_id="dw-new-by")
        part = gr.Textbox(
            label="Chip",
            info="What is written on it",
            max_length=200,
            elem_id="dw-new-part",
        )
        patient = gr.Textbox(
            label="Board",
            info="The failed board: the patient",
            max_length=200,
            elem_id="dw-new-patient",
        )
        donor = gr.Textbox(
            label="Donor board",
            info="Only if the chip goes to another board",
            max_length=200,
            elem_id="dw-new-donor",
        )
        asked = gr.Textbox(
            label="What is to be done",
            lines=2,
            max_length=2000,
            elem_id="dw-new-asked",
        )
        start = gr.Button("Open the job", variant="primary", elem_id="dw-open")
        told = gr.Textbox(
            label="Not opened",
            visible=False,
            interactive=False,
            elem_id="dw-not-opened",
        )
        # The screen's script goes to the job whose number appears here; a script in
        # the event itself would need a policy that lets texts run as code.
        job = gr.Textbox(
            label="Opened job",
            interactive=False,
            elem_id="dw-opened",
            elem_classes="dw-off",
        )
    start.click(
        open_it,
        inputs=[by, part, patient, donor, asked],
        outputs=[job, told],
        show_progress="hidden",
        api_visibility="private",
    )


def open_a_job(context: PageContext, **texts: str) -> tuple[str, Any]:
    """Open a job from what was typed.

    Parameters
    ----------
    context : PageContext
        Says where jobs lie.
    **texts : str
        ``by``, ``part``, ``patient``, ``donor`` and ``asked``.

    Returns
    -------
    (str, update)
        The number of the new job, or an empty text and a sentence for the person.
    """
    typed = {
        name: str(text or "").encode("utf-8", "replace").decode("utf-8").strip()
        for name, text in texts.items()
    }
    try:
        for name, sentence in NEEDED.items():
            if not typed[name]:
                return "", gr.update(value=sentence, visible=True)
        opening = Opened(
            job=new_job_name(),
            technician=typed["by"],
            part=typed["part"],
            patient=typed["patient"],
            donor=typed["donor"],
            asked=typed["asked"],
        )
        folder = open_job(context.home, opening)
    except VisionError as error:
        return "", gr.update(value=visible(str(error)), visible=True)
    return folder.name, gr.update(value="", visible=False)


def router(context: PageContext) -> APIRouter:
    """Give the routes that only this screen needs.

    Parameters
    ----------
    context : PageContext

    Returns
    -------
    APIRouter
    """
    routes = APIRouter(prefix="/api/bench")

    async def jobs(
        limit: Annotated[int, Query(ge=1, le=MOST)] = RECENT,
    ) -> dict[str, Any]:
        """List the newest jobs, and say whether there are more."""
        rows = await run_in_threadpool(list_jobs, context.home, limit=limit + 1)
        shown = [_row(asdict(row)) for row in rows[:limit]]
        return {"jobs": shown, "more": len(rows) > limit}

    async def pin_names() -> dict[str, Any]:
        """List the pin-outs that come with the program."""
        return {
            name: {
                "title": visible(p.name),
                "pins": list(p.pins),
                "after_half_turn": visible(p.after_half_turn),
            }
            for name, p in pinouts().items()
        }

    async def packages() -> tuple[str, ...]:
        """List the packages that can be named."""
        return package_names()

    routes.add_api_route("/jobs", jobs, methods=["GET"])
    routes.add_api_route("/pinouts", pin_names, methods=["GET"])
    routes.add_api_route("/packages", packages, methods=["GET"])
    return routes


def _row(row: dict[str, Any]) -> dict[str, Any]:
    shown = {k: visible(v) if isinstance(v, str) else v for k, v in row.items()}
    holds = row["review_decision"] or row["decision"] or row["tool_decision"]
    return {
        **shown,
        "word": _standing_word(row, holds),
        "state": DECISION_STATE.get(holds, "unsure"),
    }


def _standing_word(row: dict[str, Any], holds: str) -> str:
    """Say what holds of a job, and who said it where it was not its technician."""
    if row["step"] == "damaged" or not row["photo_count"]:
        return ""
    word = DECISION_WORDS[holds]
    if row["review"]:
        return f"{word} ({row['review']} by {visible(row['reviewer'])})"
    return word if row["decision"] else f"{word} (tool)"
