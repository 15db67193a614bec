"""Where a job stands: its stages, the next step, and the cautions that apply now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui.cautions import CAUTIONS, Caution, When
from ui.record.comparisons import is_pair_answer
from ui.side_words import NEXT_PHOTO
from vision.packages import SIDE_LEADS, SIDE_PITCH_MM, lead_rows
from vision.tables import variants_of

if TYPE_CHECKING:
    from ui.record import Checked, JobState, Noted, PhotoAdded
    from ui.record.events import Role, Stage


DO_NOT_POWER = "Do not power the board."
_FROM_ABOVE: tuple[Stage, ...] = ("before", "after")


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePlace:
    """One stage of the work, for one board."""

    stage: Stage
    role: Role
    title: str
    ask: str
    leads: tuple[int, ...] = ()


_BEFORE = StagePlace(
    stage="before",
    role="patient",
    title="Before lifting",
    ask="Photograph the chip before you lift it: from straight above, sharp, the chip "
    "about a third of the frame, with the board's print around it.",
)
_DONOR = StagePlace(
    stage="before",
    role="donor",
    title="Donor as it was",
    ask="Photograph the same place on the donor board as you found it, from straight "
    "above.",
)


def _later(role: Role) -> tuple[StagePlace, StagePlace]:
    """Give the stages of the board that gets the chip."""
    lands = StagePlace(
        stage="lands",
        role=role,
        title="Bare lands",
        ask="With the chip off and the lands cleaned, photograph the empty place from "
        "straight above.",
    )
    after = StagePlace(
        stage="after",
        role=role,
        title="After reflow",
        ask="After soldering and cleaning, photograph the same place again as before. "
        "It may be turned, nearer or farther.",
    )
    return lands, after


def stages_of(state: JobState) -> tuple[StagePlace, ...]:
    """Give the stages of a job in the order of the work.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    tuple of StagePlace
        With the donor's only where the job names a donor; from the side one a row,
        where the rows of the chip are known.
    """
    donor = (_DONOR,) if state.opened.donor.strip() else ()
    later = _later(state.usual_role("after"))
    return (_BEFORE, *donor, *later, *_side_places(state))


def is_asked_first(place: StagePlace) -> bool:
    """Tell whether a stage is asked for in any case.

    Parameters
    ----------
    place : StagePlace

    Returns
    -------
    bool
        False where it is only to settle what could not be judged without it.
    """
    return place.stage != "side"


def _side_places(state: JobState) -> tuple[StagePlace, ...]:
    named_by_hand = {n.event.leads for n in state.side_photos() if n.event.leads}
    rows = {*_rows_of_chip(state), *named_by_hand}
    role = state.usual_role("side")
    named = tuple(
        StagePlace(
            stage="side",
            role=role,
            title=f"Side, leads {row[0]} to {row[-1]}",
            ask=f"If a joint could not be judged: photograph the row of leads {row[0]} "
            f"to {row[-1]}, counted from the chip's pin 1. {NEXT_PHOTO}",
            leads=row,
        )
        for row in sorted(rows)
    )
    if not named or state.photo("side", leads=()) is not None:
        unnamed = StagePlace(
            stage="side",
            role=role,
            title="From the side",
            ask="If a joint could not be judged: photograph the row of leads from a "
            "low angle. Whose leads they are is not known, so a level row clears no "
            "doubt.",
        )
        return (*named, unnamed)
    return named


def _rows_of_chip(state: JobState) -> tuple[tuple[int, ...], ...]:
    """Give the rows that can be judged from the side; none where that is not known."""
    for stage in _FROM_ABOVE:
        photo = state.photo(stage)
        answer = None if photo is None else answer_about(state, photo.seq)
        chips = (answer.event.answer.get("packages") if answer else None) or [{}]
        family, count = chips[0].get("family"), chips[0].get("lead_count")
        for variant in variants_of(str(family), count) if count else ():
            if variant.lead_style == "gull_wing" and variant.pitch_mm >= SIDE_PITCH_MM:
                return tuple(
                    (first, last)
                    for first, last in lead_rows(variant)
                    if last - first + 1 >= SIDE_LEADS
                )
    return ()


def answer_about(state: JobState, photo: int) -> Noted[Checked] | None:
    """Give the newest answer about one photo.

    Parameters
    ----------
    state : JobState
        The job.
    photo : int
        Event of the photo.

    Returns
    -------
    Noted or None
        None where it was not judged.
    """
    for noted in reversed(state.answers):
        if noted.event.photos == (photo,) and not is_pair_answer(noted.event):
            return noted
    return None


def photo_of(state: JobState, place: StagePlace) -> Noted[PhotoAdded] | None:
    """Give the photo that counts for a stage, of the row where it has rows.

    Parameters
    ----------
    state : JobState
        The job.
    place : StagePlace

    Returns
    -------
    Noted or None
        None where there is no such photo.
    """
    return state.photo(place.stage, place.role, leads=place.leads)


def pair_about(state: JobState, before: int, after: int) -> Noted[Checked] | None:
    """Give the newest comparison of two photos, with or without bare lands.

    Parameters
    ----------
    state : JobState
        The job.
    before, after : int
        Events of the photos.

    Returns
    -------
    Noted or None
        None where they were not compared.
    """
    for noted in reversed(state.answers):
        photos = noted.event.photos
        if photos[:2] == (before, after) and is_pair_answer(noted.event):
            return noted
    return None


def next_step(state: JobState) -> str:
    """Say what to do next in a job.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    str
        One sentence or two.
    """
    if state.step == "sealed":
        return "The job is sealed. Note how the first power-up went, when it was done."
    if state.decision is not None:
        finish = "Finish the job: that writes the report and seals the record."
        stopped = state.decision.event.decision == "stop"
        return f"{DO_NOT_POWER} {finish}" if stopped else finish
    is_soldered = state.photo("after") is not None
    for place in stages_of(state):
        photo = photo_of(state, place)
        too_late = is_soldered and place.stage == "lands"
        if photo is None and is_asked_first(place) and not too_late:
            return place.ask
        if photo is not None and _is_unusable(state, photo):
            return f"Take the photo “{place.title}” again: the tool could not use it."
    if state.answer_pair is None:
        return "Wait for the answer, or press Judge."
    return _after_answer(state)


def cautions_now(state: JobState) -> tuple[Caution, ...]:
    """Give the cautions that apply at this point of the work.

    Parameters
    ----------
    state : JobState
        The job.

    Returns
    -------
    tuple of Caution
    """
    if state.photo("after") is not None:
        is_stop = state.tool_decision == "stop"
        wanted: set[When] = {"before power", "always"}
        wanted.add("while hot" if is_stop else "first power")
    elif state.photo("lands") is not None:
        wanted = {"while hot", "always"}
    else:
        wanted = {"before lifting", "always"}
        if state.photo("before") is not None:
            wanted.add("while hot")
    return tuple(caution for caution in CAUTIONS if caution.when in wanted)


def _is_unusable(state: JobState, photo: Noted[PhotoAdded]) -> bool:
    answer = answer_about(state, photo.seq)
    return answer is not None and "error" in answer.event.answer


def _after_answer(state: JobState) -> str:
    if state.tool_decision == "stop":
        return (
            f"{DO_NOT_POWER} Have a second person look, then mend what the findings "
            "name; a new photo after reflow goes into this same job."
        )
    if state.tool_decision == "retake":
        return "Take the photo again that the findings name, then read the new answer."
    if state.tool_decision == "check-by-hand":
        return (
            "Look yourself, under magnification, at what the findings call “cannot "
            "tell”. Then write down what you decide."
        )
    return "Let a second person look. Then write down what you decide."
