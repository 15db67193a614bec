"""Where a job stands: its stages, the next step, and the cautions that apply now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ui.cautions import CAUTIONS, Caution, When
from ui.decided_words import DO_NOT_POWER, decided_step, may_be_powered
from ui.page.before_photos import UNREADABLE, why_unmarked, why_useless
from ui.page.old_rows import old_rows_step
from ui.record.comparisons import is_pair_answer
from ui.record.standing import is_stopped
from ui.side_words import NEXT_PHOTO
from vision.packages import SIDE_LEADS, SIDE_PITCH_MM, lead_rows
from vision.tables import variants_of

if TYPE_CHECKING:
    from ui.record import Checked, JobState, Noted, PhotoAdded
    from ui.record.events import Role, Stage

WAIT_TO_LIFT = "Do not lift yet: wait for the answer, or press Judge."
BY_EYE = (
    f"{DO_NOT_POWER} Nothing can be compared, so the tool clears nothing: look at the "
    "chip yourself, under magnification, have a second person look, and write down "
    "what you decide."
)
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
        With the donor's only where the job names or shows one; from the side one a row,
        where the rows of the chip are known.
    """
    donor = (_DONOR,) if state.has_donor else ()
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
        said = answer.event.answer if answer else {}
        if _is_another_meant(said):
            continue
        chips = said.get("packages") or [{}]
        family, count = chips[0].get("family"), chips[0].get("lead_count")
        for variant in variants_of(str(family), count) if count else ():
            if variant.lead_style == "gull_wing" and variant.pitch_mm >= SIDE_PITCH_MM:
                return tuple(
                    (first, last)
                    for first, last in lead_rows(variant)
                    if last - first + 1 >= SIDE_LEADS
                )
    return ()


def _is_another_meant(answer: dict[str, Any]) -> bool:
    """Tell whether the chip found first may not be the one that is meant."""
    meant = answer.get("meant")
    return isinstance(meant, dict) and meant.get("state") != "ok"


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
    if state.decision is not None or state.step == "sealed":
        return decided_step(state)
    for place in stages_of(state):
        step = "" if _is_past(state, place) else _photo_step(state, place)
        if step:
            return " ".join([step, *_lost(state)])
    return " ".join([_judged_step(state), *_lost(state)])


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
        wanted: set[When] = {"before power", "always"}
        if is_stopped(state):
            wanted.add("while hot")
        elif may_be_powered(state):
            wanted.add("first power")
    elif state.photo("lands") is not None:
        wanted = {"while hot", "always"}
    else:
        wanted = {"before lifting", "always"}
        if state.photo("before") is not None:
            wanted.add("while hot")
    return tuple(caution for caution in CAUTIONS if caution.when in wanted)


def _is_past(state: JobState, place: StagePlace) -> bool:
    """Tell whether what a stage shows is gone: the chip is lifted, or soldered on."""
    if state.photo("after") is not None:
        return place.stage in ("before", "lands")
    return place.stage == "before" and state.photo("lands", place.role) is not None


def _photo_step(state: JobState, place: StagePlace) -> str:
    """Ask for a stage's photo, or for another; empty where nothing is wanted."""
    photo = photo_of(state, place)
    if photo is None:
        return place.ask if is_asked_first(place) else ""
    is_patients = place.stage == "before" and place.role == "patient"
    if is_patients and _answer_of(state, photo) is None:
        return WAIT_TO_LIFT
    why = _why_useless(state, photo)
    unmarked = "" if why else _why_unmarked(state, photo)
    if not why and not unmarked:
        return ""
    by_hand = ", or outline the chip by hand" if unmarked else ""
    if is_patients:
        return f"Do not lift yet: take this photo again{by_hand}: {why or unmarked}."
    return f"Take the photo “{place.title}” again: {why}."


def _answer_of(state: JobState, photo: Noted[PhotoAdded]) -> dict[str, Any] | None:
    noted = answer_about(state, photo.seq)
    return None if noted is None else noted.event.answer


def _why_useless(state: JobState, photo: Noted[PhotoAdded]) -> str:
    """Say why a photo that was judged is of no use; empty where it may be."""
    answer = _answer_of(state, photo)
    if answer is None:
        return ""
    if photo.event.stage == "before":
        return why_useless(answer)
    return UNREADABLE if "error" in answer else ""


def _why_unmarked(state: JobState, photo: Noted[PhotoAdded]) -> str:
    """Say why the chip is not known in a photo before lifting that was judged."""
    answer = _answer_of(state, photo)
    if answer is None or photo.event.stage != "before":
        return ""
    return why_unmarked(answer, photo.event.role)


def _lost(state: JobState) -> list[str]:
    """Name the photos before lifting that are missing for good."""
    found = []
    for place in stages_of(state):
        if place.stage != "before" or not _is_past(state, place):
            continue
        photo = photo_of(state, place)
        why = "" if photo is None else _why_useless(state, photo)
        if photo is None:
            said = f"The photo “{place.title}” was not taken"
            found.append(f"{said}, and cannot be made up for.")
        elif why:
            said = f"The photo “{place.title}” cannot be made up for"
            found.append(f"{said}, but is of no use: {why}.")
    return found


def _judged_step(state: JobState) -> str:
    """Say what follows from the answer about all photos."""
    before = state.photo("before", state.usual_role("after")) or state.photo("before")
    if before is None or (_why_useless(state, before) and not _is_stop(state)):
        return BY_EYE
    if state.answer_pair is None:
        return "Wait for the answer, or press Judge."
    return old_rows_step(state) or _after_answer(state) + _mark_words(state, before)


def _mark_words(state: JobState, before: Noted[PhotoAdded]) -> str:
    """Say how a photo before lifting serves that cannot be taken again."""
    why = _why_unmarked(state, before)
    if not why or state.tool_decision != "retake":
        return ""
    return (
        " That before lifting cannot be taken again: outline the chip in it by hand, "
        f"as {why}."
    )


def _is_stop(state: JobState) -> bool:
    return state.tool_decision == "stop"


def _after_answer(state: JobState) -> str:
    if _is_stop(state):
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
