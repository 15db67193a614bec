"""The commands `dotward job ...` and `dotward report`: the record by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, get_args

import typer

from ui.decided_words import power_lines
from ui.inputs import lead_row, named_path
from ui.job_options import (
    EXIT_FAULT,
    EXIT_UNSURE,
    EXIT_UNUSABLE,
    USUAL_ROLE,
    By,
    Home,
    Job,
    event_number,
    existing_home,
    one_of,
    say,
    say_entry,
    told,
)
from ui.job_rows import FORMS, print_rows
from ui.own_limits import own_limits
from ui.record import (
    Decided,
    Head,
    Opened,
    add_event,
    add_photo,
    check_job,
    export_bag,
    job_folder,
    list_jobs,
    load_job,
    new_job_name,
    open_job,
    seal_job,
    verify_job,
)
from ui.record.events import Decision, Role, Stage
from ui.record.files import told_as_record_error, write_whole
from ui.record.journal import JOURNAL_NAME
from ui.record.outvoted import no_longer_counting, outvoted_words
from ui.record.pieces import photo_problems
from ui.review_commands import app as review_app

REPORT_SUFFIXES = (".html", ".pdf")
MOST_IN_TABLE = 50
EXITS = {"no-fault-seen": 0, "stop": EXIT_FAULT}

app = typer.Typer(
    help="Keep the record of a chip move: photos, answers and decisions.",
    no_args_is_help=True,
)
app.add_typer(review_app)


@app.command("new")
def new(
    *,
    home: Home,
    part: Annotated[str, typer.Option(help="The chip that is moved.")],
    patient: Annotated[str, typer.Option(help="The failed board.")],
    by: By,
    donor: Annotated[str, typer.Option(help="Board that gets the chip.")] = "",
    asked: Annotated[str, typer.Option(help="What is to be done.")] = "",
) -> None:
    """Open a job and print its number."""
    with told():
        opening = Opened(
            job=new_job_name(),
            technician=by,
            part=part,
            patient=patient,
            donor=donor,
            asked=asked,
        )
        folder = open_job(home, opening)
    say(folder.name)


@app.command("add")
def add(  # noqa: PLR0913 - a photo has this many facts
    job: Job,
    photo: Annotated[
        Path,
        typer.Argument(parser=named_path, metavar="PHOTO", help="The untouched photo."),
    ],
    *,
    home: Home,
    stage: Annotated[str, typer.Option(help=", ".join(get_args(Stage)))],
    by: By,
    role: Annotated[
        str | None, typer.Option(help=f"{', '.join(get_args(Role))}; {USUAL_ROLE}")
    ] = None,
    replaces: Annotated[
        int | None,
        typer.Option(parser=event_number, metavar="EVENT", help="Event it replaces."),
    ] = None,
    leads: Annotated[
        str | None,
        typer.Option(
            metavar="FIRST-LAST",
            help="With --stage side: the row it shows, such as 1-4, by the chip's own "
            "numbers.",
        ),
    ] = None,
) -> None:
    """Add a photo to a job; of each stage the newest counts, from the side all."""
    one_of(stage, "--stage", get_args(Stage))
    if role is not None:
        one_of(role, "--role", get_args(Role))
    row = () if leads is None else lead_row(leads, "--leads")
    with told():
        folder = job_folder(home, job)
        before = load_job(folder)
        entry = add_photo(
            folder,
            photo,
            stage=stage,  # type: ignore[arg-type]
            role=role,  # type: ignore[arg-type]
            by=by,
            replaces=replaces,
            leads=row,
        )
        gone = no_longer_counting(before, load_job(folder))
    say_entry(entry)
    for noted in gone:
        say(f"event {noted.seq} no longer counts for the stage {noted.event.stage}")


@app.command("check")
def check(job: Job, *, home: Home) -> None:
    """Have the tool judge what has no answer yet, or one by other limits."""
    with told():
        folder = job_folder(home, job)
        # The pipeline is slow to load and only this command needs it.
        from ui.checker import tool_checker  # noqa: PLC0415
        from ui.job_findings import finding_lines  # noqa: PLC0415

        checker = tool_checker(own_limits(folder.parent))
        is_open = load_job(folder).step != "sealed"  # what is sealed stays as judged
        for entry in check_job(folder, checker, by_limits=is_open):
            say_entry(entry)
        state = load_job(folder)
    say(f"the tool says: {state.tool_decision}")
    for line in finding_lines(state):
        say(f"  {line}")
    for line in power_lines(state):
        say(line)
    raise typer.Exit(EXITS.get(state.tool_decision, EXIT_UNSURE))


@app.command("decide")
def decide(
    job: Job,
    decision: Annotated[str, typer.Argument(help=", ".join(get_args(Decision)))],
    *,
    home: Home,
    by: By,
    why: Annotated[str, typer.Option(help="Your reason.")] = "",
) -> None:
    """Record your own decision.

    A reason is needed for no-fault-seen against the tool or after an earlier stop.
    """
    one_of(decision, "DECISION", get_args(Decision))
    with told():
        folder = job_folder(home, job)
        state = load_job(folder)
        event = Decided(
            decision=decision,  # type: ignore[arg-type]
            by=by,
            tool_decision=state.tool_decision,
            reason=why,
        )
        entry = add_event(folder, event)
        state = load_job(folder)
    say_entry(entry)
    for line in (*outvoted_words(state), *power_lines(state)):
        say(line)


@app.command("seal")
def seal(job: Job, *, home: Home, by: By) -> None:
    """Write the reports and close the job."""
    # fpdf and its typeface are slow to load; most commands do without.
    from ui.report import make_reports  # noqa: PLC0415

    with told():
        entry = seal_job(job_folder(home, job), by=by, make_reports=make_reports)
    for name in entry.data["reports"]:
        say(f"reports/{name}")
    say_entry(entry)
    say(f"keep with the report: {entry.data['count']} events, {entry.data['head']}")


@app.command("verify")
def verify(
    job: Job,
    *,
    home: Home,
    count: Annotated[int | None, typer.Option(help="Count on the report.")] = None,
    head: Annotated[str | None, typer.Option(help="Head hash on the report.")] = None,
) -> None:
    """Look for anything changed, missing, moved or cut off."""
    if (count is None) != (head is None):
        message = "--count and --head stand together on the report: give both."
        raise typer.BadParameter(message)
    expected = None
    if count is not None and head is not None:
        expected = Head(count=count, hash=head.strip().lower())
    with told():
        found = verify_job(job_folder(home, job), expected=expected)
    for problem in found.problems:
        say(f"PROBLEM {problem}")
    for remark in found.remarks:
        say(f"remark  {remark}")
    say(f"{found.count} events, head {found.head}")
    if found.problems:
        raise typer.Exit(EXIT_FAULT)
    say("nothing speaks against this record")


@app.command("export")
def export(
    job: Job,
    target: Annotated[
        Path,
        typer.Argument(parser=named_path, metavar="TARGET", help="Folder to be made."),
    ],
    *,
    home: Home,
    originals: Annotated[
        bool, typer.Option("--originals", help="Pack the untouched photos too.")
    ] = False,
) -> None:
    """Pack a job as a BagIt bag; places are removed from the copies."""
    with told():
        export_bag(job_folder(home, job), target, with_originals=originals)
    say(str(target))
    if originals:
        say("the originals in it may say where the photos were taken")


@app.command("list")
def list_command(
    *,
    home: Home,
    limit: Annotated[
        int | None, typer.Option(min=1, help="At most so many; 50 in a table.")
    ] = None,
    form: Annotated[str, typer.Option(help="table, csv or jsonl")] = "table",
) -> None:
    """List jobs, newest first."""
    one_of(form, "--form", FORMS)
    with told():
        rows = list_jobs(existing_home(home))
    shown = rows[: limit or MOST_IN_TABLE] if form == "table" else rows[:limit]
    print_rows(shown, form)
    if form == "table":
        say(f"{len(shown)} of {len(rows)} jobs shown")


def report_command(
    job: Job,
    *,
    home: Home,
    out: Annotated[
        Path,
        typer.Option(
            parser=named_path,
            metavar="FILE",
            help="Where to; ends in .html or .pdf.",
        ),
    ],
) -> None:
    """Write the report of a job as it stands, as HTML or PDF."""
    suffix = _report_suffix(out)
    _refuse_in_job(out)
    # fpdf and its typeface are slow to load; most commands do without.
    from ui.report import make_reports  # noqa: PLC0415

    with told():
        folder = job_folder(home, job)
        state = load_job(folder)
        content = make_reports(folder, state)[suffix]
        with told_as_record_error(str(out)):
            write_whole(out, content)
        problems = tuple(photo_problems(folder, state))
    say(str(out))
    for problem in problems:
        say(f"PROBLEM {problem}")
    if problems:
        raise typer.Exit(EXIT_UNUSABLE)


def _refuse_in_job(out: Path) -> None:
    """Refuse to write among the files of a job: a sealed report may lie there."""
    place = out.parent.resolve()
    inside = [p for p in (place, *place.parents) if (p / JOURNAL_NAME).is_file()]
    if inside:
        message = (
            f"{out}: this lies in the folder of the job {inside[0].name}, which keeps "
            "nothing but its record; name a file outside it, such as report.pdf"
        )
        raise typer.BadParameter(message, param_hint="--out")


def _report_suffix(out: Path) -> str:
    """Give the kind of report that a file's name asks for."""
    suffix = out.suffix.lower()
    if suffix in REPORT_SUFFIXES and not out.is_dir():
        return suffix
    seen = f"the name ends in {out.suffix!r}" if suffix else "the name has no ending"
    message = (
        f"{out}: {'this is a folder' if out.is_dir() else seen}; a file that ends in "
        ".html or .pdf is needed, such as report.pdf"
    )
    raise typer.BadParameter(message, param_hint="--out")
