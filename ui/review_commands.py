"""The commands `dotward job correct|review|undo|outcome|queue|agreement`."""

from __future__ import annotations

import itertools
import json
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any, get_args

import typer

from ui.decided_words import power_lines, standing_words
from ui.hand_outline import outline_doubt
from ui.job_options import (
    USUAL_ROLE,
    By,
    Home,
    Job,
    day,
    event_number,
    existing_home,
    one_of,
    say,
    say_entry,
    told,
)
from ui.job_rows import FORMS, print_rows
from ui.marked_points import points_typed, refuse_misplaced
from ui.pair_words import DECISION_WORDS
from ui.record import (
    Corrected,
    Outcome,
    add_event,
    job_folder,
    load_job,
)
from ui.record.events import Decision, Role, Stage
from ui.review import (
    KINDS,
    SHOWS,
    Filter,
    accept,
    overrule,
    read_queue,
    read_rows,
    take_back,
)
from ui.review.words import NOT_BLIND, damaged_lines, outcome_lines, pair_lines
from vision.errors import RecordError
from vision.package_names import name_as_listed
from vision.results import NotFound

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ui.record import JobState, Noted, PhotoAdded
    from ui.review.agreement import Agreement

app = typer.Typer()
SHORT_WORDS = ("no fault", "stop", "by hand", "retake")

Show = Annotated[str, typer.Option("--show", help=", ".join(SHOWS))]
Kind = Annotated[str, typer.Option("--kind", help=", ".join(KINDS))]
Technician = Annotated[
    str, typer.Option("--technician", help="A piece of the technician's name.")
]
Part = Annotated[str, typer.Option("--part", help="A piece of the part's name.")]
Since = Annotated[
    datetime | None,
    typer.Option(
        "--since", parser=day, metavar="DAY", help="Opened on this day or later."
    ),
]
Until = Annotated[
    datetime | None,
    typer.Option(
        "--until", parser=day, metavar="DAY", help="Opened on this day or before."
    ),
]


@app.command("correct")
def correct(  # noqa: PLR0913 - a correction has this many facts
    job: Job,
    stage: Annotated[str, typer.Argument(help=", ".join(get_args(Stage)))],
    *,
    home: Home,
    by: By,
    pin1: Annotated[
        str, typer.Option(help="The pin-1 corner, X,Y in pixels of the upright photo.")
    ] = "",
    outline: Annotated[
        str, typer.Option(help="The body's four corners in order: 'X,Y X,Y X,Y X,Y'.")
    ] = "",
    package: Annotated[
        str, typer.Option(help="What the chip is, such as SOIC-8, or a size in full.")
    ] = "",
    role: Annotated[
        str | None, typer.Option(help=f"{', '.join(get_args(Role))}; {USUAL_ROLE}")
    ] = None,
    why: Annotated[str, typer.Option(help="Your reason.")] = "",
) -> None:
    """Put right by hand what the tool saw in a photo; then check again."""
    if sum(map(bool, (pin1, outline, package))) != 1:
        message = "--pin1, --outline or --package is needed, one at a time."
        raise typer.BadParameter(message)
    one_of(stage, "STAGE", get_args(Stage))
    if role is not None:
        one_of(role, "--role", get_args(Role))
    named = name_as_listed(package) if package else ""
    if isinstance(named, NotFound):
        raise typer.BadParameter(named.reason, param_hint="--package")
    points = points_typed(pin1 or outline) if not package else []
    if pin1 and len(points) != 1:
        message = f"--pin1 is {pin1!r}; one point X,Y is needed."
        raise typer.BadParameter(message)
    if outline and len(points) != 4:
        message = (
            f"--outline is {outline!r}; the four corners of a body, one after the "
            "other around it, are needed."
        )
        raise typer.BadParameter(message)
    doubt = outline_doubt(points) if outline else ""
    if doubt:
        raise typer.BadParameter(doubt, param_hint="--outline")
    with told():
        folder = job_folder(home, job)
        state = load_job(folder)
        photo = _photo_of(state, stage, role)  # type: ignore[arg-type]
        option = "--pin1" if pin1 else "--outline"
        refuse_misplaced(points, option, folder, state, photo)
        what, value = _fix(pin1, points, named)
        event = Corrected(photo=photo.seq, what=what, value=value, by=by, reason=why)
        say_entry(add_event(folder, event))
    say(f"now let the tool count it in: dotward job check {job}")


def _fix(
    pin1: str, points: list[list[float]], package: str
) -> tuple[str, dict[str, Any]]:
    """Give what is put right and its value, in the form of the record."""
    if package:
        return "package", {"name": package}
    return (
        ("pin1", {"at_px": points[0]}) if pin1 else ("outline", {"outline_px": points})
    )


@app.command("review")
def review(
    job: Job,
    verdict: Annotated[str, typer.Argument(help="accept or overrule")],
    decision: Annotated[
        str, typer.Argument(help="If overruled: " + ", ".join(get_args(Decision)))
    ] = "",
    *,
    home: Home,
    by: By,
    why: Annotated[str, typer.Option(help="What you saw.")] = "",
) -> None:
    """Accept or overrule the decision of somebody else."""
    one_of(verdict, "VERDICT", ("accept", "overrule"))
    if verdict == "accept" and decision:
        message = f"DECISION is {decision!r}; an accepted decision stays as it is."
        raise typer.BadParameter(message)
    if verdict == "overrule":
        _refuse_left_out(decision)
        one_of(decision, "DECISION", get_args(Decision))
    with told():
        folder = job_folder(home, job)
        if verdict == "accept":
            say_entry(accept(folder, by=by, reason=why))
        else:
            holds: Decision = decision  # type: ignore[assignment]
            say_entry(overrule(folder, holds, by=by, reason=why))
        state = load_job(folder)
    for line in power_lines(state):
        say(line)


@app.command("undo")
def undo(
    job: Job,
    *,
    home: Home,
    by: By,
    event: Annotated[
        int | None,
        typer.Option(
            parser=event_number,
            metavar="EVENT",
            help="Which event; the newest if left out.",
        ),
    ] = None,
    why: Annotated[str, typer.Option(help="Your reason.")] = "",
) -> None:
    """Take back a correction, decision or review; it stays in the journal."""
    with told():
        folder = job_folder(home, job)
        entry = take_back(folder, by=by, event=event, reason=why)
        state = load_job(folder)
        gone = state.history[entry.data["event"] - 1]
    say_entry(entry)
    say(f"taken back: event {gone.seq} {gone.event.KIND}")
    for line in (standing_words(state), *power_lines(state)):
        say(line)


@app.command("outcome")
def outcome(
    job: Job,
    result: Annotated[str, typer.Argument(help="worked or failed")],
    *,
    home: Home,
    by: By,
    note: Annotated[str, typer.Option(help="What was seen at power-on.")] = "",
) -> None:
    """Note how the board did when it was powered."""
    one_of(result, "RESULT", ("worked", "failed"))
    with told():
        folder = job_folder(home, job)
        event = Outcome(worked=result == "worked", by=by, text=note)
        say_entry(add_event(folder, event))
        is_decided = load_job(folder).decision is not None
    if not is_decided:
        say(
            "no decision stands in this job: the outcome is kept, and held against "
            "what the tool said alone. Decide with `dotward job decide`"
        )


@app.command("queue")
def queue(  # noqa: PLR0913 - one option a filter
    *,
    home: Home,
    show: Show = "open",
    kind: Kind = "any",
    technician: Technician = "",
    part: Part = "",
    since: Since = None,
    until: Until = None,
    limit: Annotated[
        int | None, typer.Option(min=1, help="At most so many; 50 in a table.")
    ] = None,
    form: Annotated[str, typer.Option(help=", ".join(FORMS))] = "table",
) -> None:
    """List the jobs that wait for a review, oldest first, or others."""
    one_of(form, "--form", FORMS)
    with told():
        existing_home(home)
        wanted = _filter(show, kind, technician, part, since, until)
        if form != "table":
            print_rows(itertools.islice(read_rows(home, wanted), limit), form)
            return
        found = read_queue(home, wanted, limit=limit or 50)
    print_rows(found.rows, form)
    say(f"{len(found.rows)} of {found.count} jobs shown")
    say("by review: " + _counted(found.by_show.items()))
    say("by kind: " + _counted(found.by_kind.items()))


@app.command("agreement")
def agreement(  # noqa: PLR0913 - one option a filter
    *,
    home: Home,
    show: Show = "all",
    kind: Kind = "any",
    technician: Technician = "",
    part: Part = "",
    since: Since = None,
    until: Until = None,
    form: Annotated[str, typer.Option(help="table or json")] = "table",
) -> None:
    """Say how far tool, technician and reviewer agree."""
    one_of(form, "--form", ("table", "json"))
    # The statistics are slow to load and only this command needs them.
    from ui.review.agreement import read_agreement  # noqa: PLC0415

    with told():
        existing_home(home)
        wanted = _filter(show, kind, technician, part, since, until)
        found = read_agreement(home, wanted)
    if form == "json":
        typer.echo(json.dumps(asdict(found)))
        return
    _print_agreement(found)


def _refuse_left_out(decision: str) -> None:
    if not decision:
        message = (
            "it is left out, and an overruling says what holds instead: one of "
            f"{', '.join(get_args(Decision))}"
        )
        raise typer.BadParameter(message, param_hint="DECISION")


def _filter(
    show: str,
    kind: str,
    technician: str,
    part: str,
    since: datetime | None,
    until: datetime | None,
) -> Filter:
    one_of(show, "--show", SHOWS)
    one_of(kind, "--kind", KINDS)
    if since and until and since > until:
        message = (
            f"{since:%Y-%m-%d} is later than --until {until:%Y-%m-%d}, so no job can "
            "lie between them; name the earlier day with --since"
        )
        raise typer.BadParameter(message, param_hint="--since")
    return Filter(
        show=show,  # type: ignore[arg-type]  # one of them
        kind=kind,  # type: ignore[arg-type]
        technician=technician,
        part=part,
        since=since.date() if since else None,
        until=until.date() if until else None,
    )


def _counted(counts: Iterable[tuple[str, int]]) -> str:
    return ", ".join(f"{name} {count}" for name, count in counts)


def _photo_of(state: JobState, stage: Stage, role: Role | None) -> Noted[PhotoAdded]:
    role = role or state.usual_role(stage)
    for noted in reversed(state.photos):
        if (noted.event.stage, noted.event.role) == (stage, role):
            return noted
    message = (
        f"{state.job}: there is no {stage} photo of the {role} board. Add it first: "
        f"dotward job add {state.job} PHOTO --stage {stage}"
    )
    raise RecordError(message)


def _print_agreement(found: Agreement) -> None:
    for pair in found.pairs:
        say(f"{pair.first} (rows) and {pair.second} (columns)")
        say(" " * 12 + "".join(f"{word:>10}" for word in SHORT_WORDS))
        for word, counts in zip(SHORT_WORDS, pair.counts, strict=True):
            say(f"  {word:<10}" + "".join(f"{count:>10}" for count in counts))
        for line in pair_lines(pair):
            say(f"  {line}")
    outcomes = outcome_lines(found, DECISION_WORDS)
    for line in (*damaged_lines(found), *outcomes, NOT_BLIND):
        say(line)
    for source in found.sources:
        say(f"Source: {source}")
