"""The ``dotward`` command.

Exit codes: 0 nothing against it, 1 a fault, 3 could not be judged or look yourself,
2 the command was not understood, 4 a file could not be used.  Where several hold,
an unusable file is told first, then a fault, then what could not be judged.
"""

from __future__ import annotations

import importlib.util
import io
import logging
import sys
from pathlib import Path
from typing import Annotated

import typer

from ui.command_steps import attempt, made_folder
from ui.inputs import given_name, named_path
from ui.job_options import Home
from ui.telling import Exit, say, tell, tell_error

log = logging.getLogger("dotward")

INTERRUPTED = 130

app = typer.Typer(
    name="dotward",
    help="Tells from photographs whether a chip sits on its board the right way round.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
# Groups of commands in modules of their own; each brings `app`, its Typer.
GROUPS = {"job": "ui.job_commands"}

# Single commands in modules of their own; each brings `command`.
SINGLE = {
    "look": "ui.look_command",
    "compare": "ui.compare_command",
    "tags": "ui.tag_command",
    "place": "ui.place_command",
}


def _mount_single() -> None:
    for name, module in SINGLE.items():
        app.command(name)(importlib.import_module(module).command)


def _mount_groups() -> None:
    for name, module in GROUPS.items():
        if importlib.util.find_spec(module):
            group = importlib.import_module(module)
            app.add_typer(group.app, name=name)
            if hasattr(group, "report_command"):
                app.command("report")(group.report_command)


def _print_version(*, wanted: bool) -> None:
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(f"dotward {version('dotward')}")
        except PackageNotFoundError:
            print("dotward, not installed")
        raise typer.Exit


@app.callback()
def common(
    *,
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            help="Print the version and stop.",
            callback=lambda value: _print_version(wanted=value),
            is_eager=True,
        ),
    ] = False,
    debug: Annotated[
        bool, typer.Option("--debug", help="Log what went wrong in full.")
    ] = False,
) -> None:
    """Tell from photographs whether a chip sits on its board the right way round."""
    logging.basicConfig(
        level=logging.DEBUG if debug else logging.CRITICAL, stream=sys.stderr
    )


_mount_single()


@app.command()
def page(
    *,
    jobs: Home,
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes any.")] = 7717,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let devices on this network in, with a code."),
    ] = False,
    address: Annotated[
        str | None,
        typer.Option(
            "--address",
            parser=given_name,
            metavar="ADDRESS",
            help="With --lan: listen only at this address.",
        ),
    ] = None,
) -> None:
    """Serve the page for the bench and the review, on this machine alone."""
    from ui.page.serve import LOOPBACK, Place, serve

    if address is not None and not lan:
        message = "without --lan the page is for this machine alone: leave it out"
        raise typer.BadParameter(message, param_hint="--address")
    listen = (address or "0.0.0.0") if lan else LOOPBACK
    outcome = attempt(
        "page",
        lambda: serve(jobs, Place(address=listen, port=port, lan=lan), _say_line),
    )
    if isinstance(outcome, Exception):
        tell_error(outcome, None)
        raise typer.Exit(Exit.UNUSABLE)


def _say_line(line: str) -> None:
    print(line, flush=True)


@app.command()
def demo(
    out: Annotated[
        Path,
        typer.Option(
            "--out",
            parser=named_path,
            metavar="FOLDER",
            help="Folder for the pictures and the page.",
        ),
    ] = Path("dotward-demo"),
) -> None:
    """Look at and compare the sample pictures; hold the answers against the truth."""
    from ui.demo import run_demo

    folder = made_folder(out, "--out") or out
    outcome = attempt("demo", lambda: run_demo(folder, tell))
    if isinstance(outcome, Exception):
        tell_error(outcome, None)
        raise typer.Exit(Exit.UNUSABLE)
    raise typer.Exit(Exit.NOTHING_AGAINST if outcome else Exit.FAULT)


def main() -> None:
    """Run ``dotward`` and never show a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = app(standalone_mode=False)
    except typer.Abort:
        code = INTERRUPTED
    except BrokenPipeError:
        code = Exit.UNUSABLE
        sys.stdout = None  # nobody reads it any more
    except Exception as error:  # the last line before the person
        code = _last_word(error)
    sys.exit(code)


def _last_word(error: Exception) -> Exit:
    show = getattr(error, "show", None)
    if callable(show):  # a command that was not understood says so itself
        said = io.StringIO()
        show(said)
        for line in said.getvalue().splitlines():
            say(line)
        return Exit.USAGE
    log.debug("not foreseen", exc_info=error)
    tell_error(error, None)
    return Exit.UNUSABLE


_mount_groups()
