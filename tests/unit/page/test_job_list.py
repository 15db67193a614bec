"""The list of jobs: what holds of each, and how it goes on."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.unit.record.helpers import fake_checker, make_photo, open_test_job
from ui.page.app import add_error_words
from ui.page.bench import RECENT, router
from ui.record import Decided, Reviewed, add_event, add_photo, check_job


@pytest.fixture
def client(context):
    app = FastAPI()
    app.include_router(router(context))
    add_error_words(app)
    return TestClient(app, raise_server_exceptions=False)


def rows(client):
    return client.get("/api/bench/jobs").json()["jobs"]


def judge(job, tmp_path):
    for stage, shade in (("before", 40), ("after", 90)):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="T")
    check_job(job, fake_checker())


def test_a_row_says_whose_word_holds(client, job, tmp_path):
    (row,) = rows(client)
    assert (row["word"], row["donor"]) == ("", "tide logger spare board")
    assert row["technician"] == "Test technician"
    judge(job, tmp_path)
    (row,) = rows(client)
    assert (row["word"], row["state"]) == ("No fault seen (tool)", "ok")
    event = Decided(decision="no-fault-seen", by="T", tool_decision="no-fault-seen")
    decided = add_event(job, event).seq
    (row,) = rows(client)
    assert row["word"] == "No fault seen"
    over = Reviewed(
        verdict="overruled", by="<b>", decided=decided, decision="stop", reason="seen"
    )
    add_event(job, over)
    (row,) = rows(client)
    assert (row["word"], row["state"]) == ("Stop (overruled by <b>)", "fault")


def test_a_damaged_job_says_nothing_of_its_chip(client, job, tmp_path):
    judge(job, tmp_path)
    (job / "journal.jsonl").write_bytes(b"{}\n{}\n")
    (row,) = rows(client)
    assert (row["step"], row["word"]) == ("damaged", "")


def test_the_list_goes_on_beyond_the_newest(client, context):
    for _ in range(RECENT + 2):
        open_test_job(context.home)
    first = client.get("/api/bench/jobs").json()
    assert (len(first["jobs"]), first["more"]) == (RECENT, True)
    whole = client.get(f"/api/bench/jobs?limit={RECENT + 2}").json()
    assert (len(whole["jobs"]), whole["more"]) == (RECENT + 2, False)


@pytest.mark.parametrize("limit", ["0", "-1", "x", "9999999"])
def test_a_strange_length_is_a_sentence(client, limit):
    answer = client.get(f"/api/bench/jobs?limit={limit}")
    assert answer.status_code == 422
    assert "Load the page again" in answer.json()["message"]
