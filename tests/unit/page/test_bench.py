"""Opening a job from what was typed into the form."""

from __future__ import annotations

import pytest

from ui.page.bench import open_a_job
from ui.record import job_folder, load_job
from ui.record.jobs import is_job_name

TYPED = {"by": "Ada", "part": "TIDE-25C", "patient": "logger", "donor": "", "asked": ""}
BAD = "<script>alert(1)</script>${alert(2)}[x](javascript:alert(3))\u202e"


def told(update):
    return update["value"]


def test_a_job_is_opened_and_named(context):
    number, update = open_a_job(context, **TYPED)
    (folder,) = [p for p in context.home.iterdir() if p.is_dir()]
    assert number == folder.name
    assert not update["visible"]
    opened = load_job(job_folder(context.home, folder.name)).opened
    assert (opened.technician, opened.part, opened.patient) == (
        "Ada",
        "TIDE-25C",
        "logger",
    )


@pytest.mark.parametrize(
    ("name", "words"), [("by", "“You”"), ("part", "“Chip”"), ("patient", "“Board”")]
)
@pytest.mark.parametrize("empty", ["", "  \n", None])
def test_what_is_missing_is_asked_for(context, name, words, empty):
    number, update = open_a_job(context, **{**TYPED, name: empty})
    assert number == ""
    assert words in told(update)
    assert not context.home.exists()


def test_nothing_typed_gets_into_the_number(context):
    number, _ = open_a_job(context, **dict.fromkeys(TYPED, BAD))
    assert is_job_name(number)
    (folder,) = context.home.iterdir()
    assert load_job(folder).opened.part == BAD


@pytest.mark.parametrize(
    "value", ["x" * 501, "\ud800" * 3, ["a"], {"path": "/etc"}, 7, True]
)
def test_strange_values_are_text_or_refused(context, value):
    number, update = open_a_job(context, **{**TYPED, "part": value})
    if number:
        (folder,) = context.home.iterdir()
        assert isinstance(load_job(folder).opened.part, str)
    else:
        assert "characters" in told(update)


def test_a_disk_that_takes_nothing_is_a_sentence(context):
    context.home.write_text("a file where the folder should be")
    number, update = open_a_job(context, **TYPED)
    assert number == ""
    assert "nothing was added" in told(update)
