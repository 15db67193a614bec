"""The routes of the Review screen: what they give, record and refuse."""

from __future__ import annotations

import csv
import io
import json

import pytest
from fastapi import FastAPI
from fastapi.responses import JSONResponse
from starlette.testclient import TestClient

from tests.unit.report.helpers import HOSTILE
from tests.unit.review.helpers import Jobs
from ui.page.context import PageContext
from ui.page.review import PAGE_ROWS, router
from ui.page.worker import Worker
from ui.record import forget_index, load_job
from ui.record.journal import JOURNAL_NAME
from ui.review import accept
from vision.errors import VisionError


@pytest.fixture
def jobs(tmp_path):
    return Jobs(tmp_path / "jobs", tmp_path)


@pytest.fixture
def client(jobs, tmp_path):
    worker = Worker()
    context = PageContext(home=jobs.home, cache=tmp_path / "cache", worker=worker)
    app = FastAPI()
    app.include_router(router(context))

    @app.exception_handler(VisionError)
    async def told(_request, error):
        return JSONResponse({"message": str(error)}, status_code=409)

    with TestClient(app) as client:
        yield client
    worker.close()


def test_queue_counts_and_pages(client, jobs, monkeypatch):
    assert client.get("/api/review/queue").json()["count"] == 0
    monkeypatch.setattr("ui.page.review.PAGE_ROWS", 2)
    assert PAGE_ROWS > 2
    made = [jobs.add(decision="stop") for _ in range(3)]
    first = client.get("/api/review/queue").json()
    assert [row["job"] for row in first["rows"]] == [made[0].name, made[1].name]
    assert first["count"] == first["by_show"]["open"] == first["by_kind"]["stop"] == 3
    rest = client.get("/api/review/queue", params=first["rows"][-1]["after"]).json()
    assert [row["job"] for row in rest["rows"]] == [made[2].name]


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ({"show": "x"}, "one of open"),
        ({"kind": "x"}, "one of any"),
        ({"since": "yesterday"}, "is no day"),
        ({"part": "x" * 501}, "501 characters"),
        ({"board": "x" * 501}, "501 characters"),
    ],
)
@pytest.mark.parametrize("path", ["queue", "queue.csv", "queue.jsonl", "agreement"])
def test_filters_that_are_none_are_named(client, query, says, path):
    answer = client.get(f"/api/review/{path}", params=query)
    assert answer.status_code == 409
    assert says in answer.json()["message"]


def test_accept_undo_overrule(client, jobs):
    job = jobs.add(tool="stop", decision="no-fault-seen")
    said = client.get(f"/api/review/job/{job.name}").json()
    assert (said["why_not"], said["reviews"]) == ("", [])
    assert [c["decision"] for c in said["choices"]] == [
        "stop",
        "check-by-hand",
        "retake",
    ]

    def post(what, **body):
        return client.post(f"/api/review/job/{job.name}/{what}", json=body)

    assert post("accept", by="Rev", decided=said["decided"]).status_code == 200
    (review,) = client.get(f"/api/review/job/{job.name}").json()["reviews"]
    assert (review["verdict"], review["word"]) == ("accepted", "No fault seen")
    assert post("undo", by="Rev", event=review["seq"]).status_code == 200
    done = post(
        "overrule", by="Rev", decided=said["decided"], decision="stop", reason="turned"
    )
    assert done.status_code == 200
    kinds = [noted.event.KIND for noted in load_job(job).history]
    assert kinds[-3:] == ["reviewed", "withdrawn", "reviewed"]


@pytest.mark.parametrize(
    ("what", "body", "says"),
    [
        ("accept", {"by": "", "decided": 7}, "who you are"),
        ("accept", {"by": "Ada", "decided": 7}, "second pair of eyes"),
        ("accept", {"by": "Rev", "decided": 2}, "was changed since"),
        ("accept", {"by": "Rev"}, "decided is no whole number"),
        ("accept", {"by": ["Rev"], "decided": 7}, "by is no text"),
        ("overrule", {"by": "Rev", "decided": 7, "decision": "stop"}, "what you saw"),
        (
            "overrule",
            {"by": "Rev", "decided": 7, "decision": "fine", "reason": "x"},
            "one of no-fault-seen",
        ),
        ("undo", {"by": "Rev", "event": 99}, "is not a correction"),
    ],
)
def test_what_cannot_be_recorded_is_refused(client, jobs, what, body, says):
    job = jobs.add(decision="no-fault-seen")
    count = load_job(job).count
    assert count == 7
    answer = client.post(f"/api/review/job/{job.name}/{what}", json=body)
    assert answer.status_code == 409
    assert says in answer.json()["message"]
    assert load_job(job).count == count


@pytest.mark.parametrize("job", ["20310301-aaaaaz", "..", "nonsense", "%2e%2e"])
def test_unknown_jobs_are_refused(client, job):
    assert client.get(f"/api/review/job/{job}").status_code in {404, 409}


def test_hostile_texts_come_out_visible_and_exports_guarded(client, jobs):
    text = ("=1+1" + HOSTILE).replace("\ud800", "")
    job = jobs.add(decision="stop", technician=text, part=text)
    accept(job, by=text + "2", reason=text)
    view = client.get("/api/review/queue", params={"show": "all"}).json()
    said = client.get(f"/api/review/job/{job.name}").json()
    for shown in (view["rows"][0]["part"], view["parts"][0], said["reviews"][0]["by"]):
        assert "<script>alert(1)</script>" in shown
        assert "[U+202E]" in shown
        assert shown.isprintable()
    answer = client.get("/api/review/queue.csv", params={"show": "all"})
    assert answer.headers["content-disposition"].startswith("attachment")
    (row,) = csv.DictReader(io.StringIO(answer.text))
    for name in ("technician", "part", "reviewer", "review_reason"):
        assert row[name].startswith("'=1+1<script>")
    lines = client.get("/api/review/queue.jsonl", params={"show": "all"}).text
    assert json.loads(lines)["part"] == text


def test_agreement(client, jobs):
    accept(jobs.add(decision="stop", tool="stop", worked=False), by="Rev")
    found = client.get("/api/review/agreement", params={"show": "all"}).json()
    assert found["pairs"][0]["counts"][1] == [0, 1, 0, 0]
    assert "Same word on 1 of 1 job" in found["pairs"][0]["lines"][0]
    assert "The tool said stop: 0 worked, 1 did not." in found["outcomes"]
    assert found["heads"] == ["no fault", "stop", "by hand", "retake"]


def test_a_verdict_answers_with_the_row_of_its_job(client, jobs):
    jobs.add(decision="stop")
    job = jobs.add(tool="stop", decision="no-fault-seen")
    decided = load_job(job).decision.seq
    body = {"by": "Rev", "decided": decided}
    row = client.post(f"/api/review/job/{job.name}/accept", json=body).json()["row"]
    assert (row["job"], row["review"], row["word"]) == (
        job.name,
        "accepted",
        "No fault seen",
    )
    rows = client.get("/api/review/queue", params={"show": "reviewed"}).json()["rows"]
    assert rows == [row]


def test_cautions_and_boards_stand_in_the_rows(client, jobs):
    jobs.add(tool="stop", decision="no-fault-seen", patient="Logger 1", donor="Tide 9")
    unseen = jobs.add(tool=None, decision="no-fault-seen", patient="Logger 2")
    jobs.add(decision="no-fault-seen", patient="Logger 3")
    found = client.get("/api/review/queue").json()
    words = [row["caution"] and row["caution"]["word"] for row in found["rows"]]
    assert words == ["Against the tool: stop", "No comparison was made", None]
    assert [row["differs"] for row in found["rows"]] == [True, True, False]
    assert found["by_kind"]["differs"] == 2
    assert [row["patient"] for row in found["rows"]] == found["boards"]
    said = client.get(f"/api/review/job/{unseen.name}").json()
    assert said["caution"]["text"].startswith("Caution: the photos of the patient")
    for board, count in (("logger 2", 1), ("tide 9", 1), ("LOGGER", 3), ("x", 0)):
        params = {"board": board}
        assert client.get("/api/review/queue", params=params).json()["count"] == count


def test_a_damaged_job_says_nothing_of_a_decision(client, jobs):
    job = jobs.add(decision="no-fault-seen")
    (job / JOURNAL_NAME).write_bytes(b"nonsense\n")
    forget_index(jobs.home)
    (row,) = client.get("/api/review/queue", params={"show": "all"}).json()["rows"]
    assert (row["damaged"], row["decided"], row["caution"]) == (True, False, None)
