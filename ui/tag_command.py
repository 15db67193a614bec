"""``dotward tags``: the sheet of tags to print, cut and lay beside the chip."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ui.inputs import named_path
from ui.telling import Exit, say
from ui.words import CHECK_PLACE


def command(
    out: Annotated[
        Path,
        typer.Option(
            "--out", parser=named_path, metavar="FILE", help="Where to write the PDF."
        ),
    ] = Path("dotward-tags.pdf"),
) -> None:
    """Write a sheet of tags that tell a photo its scale, its board and its stage."""
    from ui.tag_sheet import write_tag_sheet

    path = out / "dotward-tags.pdf" if out.is_dir() else out
    if path.suffix.lower() != ".pdf":
        message = (
            f"{path}: the sheet is a PDF; name a file that ends in .pdf, or a folder "
            "that is there"
        )
        raise typer.BadParameter(message, param_hint="--out")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_tag_sheet(path)
    except OSError as error:
        say(f"{path}: cannot be written: {error.strerror}. {CHECK_PLACE}")
        raise typer.Exit(Exit.UNUSABLE) from None
    typer.echo(f"{path}: print it at 100 %, without fitting to the page.")
    typer.echo("The line at the foot must measure 100.0 mm. Cut out the card of the")
    typer.echo("board and stage you are at, lay it flat on the board beside the chip,")
    typer.echo("and take the photo with both in the frame.")
