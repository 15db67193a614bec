"""The routes of a job, asked as a browser does, and as nobody should."""

from __future__ import annotations

import json
import os
import re

import numpy as np
import pytest

from tests.unit.page.asking import message, post
from tests.unit.record.helpers import fake_checker, make_photo
from ui.page.pictures import picture_folder, save_view
from ui.page.worker import WorkerError
from ui.record import Corrected, add_event, check_job, load_job, seal_job
from ui.record.store import file_sha256

STRANGE_NAMES = [
    "../../etc/passwd",
    "..\\..\\boot.ini",
    "<script>alert(1)</script>.jpg",
    "${document.title}.jpg",
    "a\u202egpj.exe",
    "new\nline\x00zero\x1b[31m.jpg",
    "x" * 300,
    "",
    "=cmd|' /C calc'!A0",
]


@pytest.fixture
def photo(tmp_path):
    return make_photo(tmp_path / "photo.jpg")


def send(client, job, path, **query):
    facts = {"stage": "before", "by": "T", "name": "p.jpg"} | query
    with path.open("rb") as file:
        return client.post(
            f"/api/job/{job.name}/photo", params=facts, content=file.read()
        )


def test_an_empty_job_is_told_in_full(client, job):
    view = client.get(f"/api/job/{job.name}").json()
    assert view["step"] == "open"
    assert [row["state"] for row in view["stages"]] == ["none"] * 5
    assert view["stages"][1]["title"] == "Donor as it was"
    assert view["next"].startswith("Photograph the chip before you lift it")
    assert view["photos"] == {}
    assert view["unjudged"] == 0


def test_a_photo_is_kept_untouched_and_judged(client, job, photo, context):
    answer = send(client, job, photo)
    assert answer.status_code == 200
    (noted,) = load_job(job).photos
    assert noted.event.sha256 == file_sha256(photo)
    assert (noted.event.by, noted.event.name) == ("T", "p.jpg")
    assert context.worker.kinds == ["view", "check"]
    assert list(context.incoming.iterdir()) == []


def test_a_picture_that_failed_is_not_asked_for_again(client, job, photo, context):
    send(client, job, photo)
    context.worker.failed = ("view",)
    context.worker.asked.clear()
    client.get(f"/api/job/{job.name}")
    assert context.worker.kinds == []


def test_a_second_photo_of_a_stage_replaces_the_first(client, job, tmp_path):
    for shade in (10, 90):
        path = make_photo(tmp_path / f"{shade}.jpg", shade)
        assert send(client, job, path).status_code == 200
    state = load_job(job)
    assert len(state.photos) == 1
    assert state.photos[0].event.replaces == 2
    assert len(list((job / "photos").iterdir())) == 2


def test_a_photo_sent_twice_stays_with_what_was_set_right_in_it(client, job, photo):
    send(client, job, photo)
    fix = Corrected(photo=2, what="package", value={"name": "SOIC-8"}, by="T")
    add_event(job, fix)
    again = send(client, job, photo)
    assert again.status_code == 409
    assert "already the before photo (event 2); nothing was added" in again.text
    state = load_job(job)
    assert (state.photos[0].seq, state.count) == (2, 3)
    assert len(list((job / "photos").iterdir())) == 1


def test_each_row_from_the_side_keeps_its_own_photo(client, job, tmp_path):
    for shade, leads in ((10, "1-4"), (50, "5-8"), (90, "1-4"), (130, "")):
        path = make_photo(tmp_path / f"{shade}.jpg", shade)
        assert send(client, job, path, stage="side", leads=leads).status_code == 200
    rows = [(p.event.leads, p.event.replaces) for p in load_job(job).side_photos()]
    assert rows == [((5, 8), None), ((1, 4), 2), ((), None)]
    stages = client.get(f"/api/job/{job.name}").json()["stages"]
    assert [row["leads"] for row in stages if row["stage"] == "side"] == [
        [1, 4], [5, 8], [],
    ]  # fmt: skip


@pytest.mark.parametrize("name", STRANGE_NAMES)
def test_a_strange_name_is_text_and_nothing_else(client, job, photo, name, tmp_path):
    before = {path for path in tmp_path.rglob("*") if path.is_file()}
    assert send(client, job, photo, name=name).status_code == 200
    made = {path for path in tmp_path.rglob("*") if path.is_file()} - before
    assert all(job in path.parents for path in made)
    shown = client.get(f"/api/job/{job.name}").json()["photos"]["2"]["name"]
    assert shown.isprintable()
    assert "\u202e" not in shown
    assert shown


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02 not a picture" * 20, "not a JPEG"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "not a JPEG"),
        (b"<!doctype html><script>alert(1)</script>", "not a JPEG"),
        (b"PK\x03\x04" + b"\x00" * 100, "not a JPEG"),
        (b"GIF89a" + b"\x00" * 40, "not a JPEG"),
    ],
)
def test_what_is_no_photo_is_refused_and_not_kept(client, job, context, content, words):
    answer = client.post(
        f"/api/job/{job.name}/photo?stage=before&by=T&name=x.jpg", content=content
    )
    assert answer.status_code == 422
    assert words in message(answer)
    assert load_job(job).photos == ()
    assert list(context.incoming.iterdir()) == []
    assert not (job / "photos").exists() or list((job / "photos").iterdir()) == []


def test_a_file_said_to_be_too_large_is_refused_before_it_comes(client, job):
    answer = client.post(
        f"/api/job/{job.name}/photo?stage=before&by=T",
        content=b"x",
        headers={"content-length": "900000000"},
    )
    assert answer.status_code == 422
    assert "900 MB" in message(answer)


def test_a_file_that_turns_out_too_large_leaves_nothing(
    client, job, context, monkeypatch
):
    monkeypatch.setattr("ui.page.bodies.MAX_UPLOAD_BYTES", 1000)

    def pieces():
        for _ in range(30):
            yield b"\xff\xd8\xff" + b"x" * 97

    answer = client.post(
        f"/api/job/{job.name}/photo?stage=before&by=T", content=pieces()
    )
    assert answer.status_code == 422
    assert list(context.incoming.iterdir()) == []


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"by": ""}, "Say who you are"),
        ({"by": "   "}, "Say who you are"),
        ({"stage": "sideways"}, "before, lands, after, side"),
        ({"role": "owner"}, "patient, donor"),
        ({"stage": "side", "leads": "4-1"}, "such as 1-4"),
        ({"stage": "side", "leads": "1-4-8"}, "no row of leads"),
        ({"stage": "side", "leads": "<script>"}, "no row of leads"),
        ({"stage": "after", "leads": "1-4"}, "from the side"),
    ],
)
def test_facts_that_do_not_fit_are_refused(client, job, photo, query, words):
    answer = send(client, job, photo, **query)
    assert answer.status_code in (409, 422)
    assert words in message(answer)
    assert load_job(job).photos == ()


@pytest.mark.parametrize(
    "name", ["nosuch", "..", "20260131-aaaaaa", "%2e%2e%2fetc", "x" * 500, "<script>"]
)
def test_a_job_that_is_none_is_a_sentence(client, context, name):
    context.home.mkdir(exist_ok=True)
    answer = client.get(f"/api/job/{name}")
    assert answer.status_code in (404, 409)
    assert str(context.home) not in answer.text or "no such job" in answer.text


def test_nothing_but_json_is_read(client, job):
    for kind in (
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data",
    ):
        answer = client.post(
            f"/api/job/{job.name}/decide",
            content=b'{"decision": "stop"}',
            headers={"content-type": kind},
        )
        assert answer.status_code == 409
        assert "not JSON" in message(answer)


@pytest.mark.parametrize(
    "content", [b"[]", b"{", b"1", b'"x"', b"\xff\xfe", b"[" * 5000]
)
def test_strange_json_is_a_sentence(client, job, content):
    answer = client.post(
        f"/api/job/{job.name}/decide",
        content=content,
        headers={"content-type": "application/json"},
    )
    assert answer.status_code == 409
    assert "load the page again" in message(answer)


def test_too_much_text_is_refused(client, job):
    answer = post(client, job, "decide", reason="x" * 300_000)
    assert answer.status_code == 409
    assert "Shorten" in message(answer)


def decided(client, job, **more):
    head = client.get(f"/api/job/{job.name}").json()["head"]
    facts = {"decision": "stop", "by": "T", "reason": "seen", "head": head} | more
    return post(client, job, "decide", **facts)


def test_a_decision_is_recorded_with_what_the_tool_said(client, job, photo):
    send(client, job, photo)
    assert decided(client, job).status_code == 200
    decision = load_job(job).decision
    assert decision is not None
    assert (decision.event.decision, decision.event.by) == ("stop", "T")
    assert decision.event.tool_decision == "check-by-hand"
    shown = client.get(f"/api/job/{job.name}").json()["decision"]
    assert shown["word"] == "Stop"
    assert shown["reason"] == ["seen"]


def test_nobody_decides_on_an_answer_that_has_changed(client, job, photo):
    send(client, job, photo)
    old = client.get(f"/api/job/{job.name}").json()["head"]
    check_job(job, fake_checker())
    answer = decided(client, job, head=old)
    assert answer.status_code == 409
    assert "Read the answer again" in message(answer)
    assert load_job(job).decision is None


def test_against_the_tool_a_reason_is_needed(client, job, photo):
    send(client, job, photo)
    answer = decided(client, job, decision="no-fault-seen", reason=" ")
    assert answer.status_code == 409
    assert "needs a reason" in message(answer)


def test_a_decision_can_be_taken_back(client, job, photo):
    send(client, job, photo)
    decided(client, job)
    seq = load_job(job).decision.seq
    assert post(client, job, "withdraw", event=seq, by="T").status_code == 200
    assert load_job(job).decision is None
    assert load_job(job).count == 4


def test_stopping_and_warming_reach_the_worker(client, job, context):
    assert client.post(f"/api/job/{job.name}/stop").json() == {"stopped": True}
    assert context.worker.stopped == [job.name]
    client.post(f"/api/job/{job.name}/warm")
    assert context.worker.warmed == 1


def test_trouble_with_the_work_is_told(client, job, context):
    context.worker.said = "The work broke off."
    assert (
        client.get(f"/api/job/{job.name}/status").json()["trouble"]
        == "The work broke off."
    )


def test_only_pictures_of_the_cache_are_served(client, job, context):
    key = "0" * 32
    save_view(picture_folder(context.cache, key), np.zeros((480, 640, 3), np.uint8))
    base = f"/api/job/{job.name}/picture"
    assert client.get(f"{base}/{key}/view.jpg").headers["content-type"] == "image/jpeg"
    (context.cache / "secret.txt").write_text("x")
    for path in (
        f"{key}/info.json",
        f"{key}/tile-0-0.jpg",
        f"{key}/..%2f..%2fsecret.txt",
        "..%2fsecret/view.jpg",
        f"{'0' * 31}/view.jpg",
        f"{key}/view.jpg%00",
    ):
        assert client.get(f"{base}/{path}").status_code == 404


def test_a_report_that_cannot_be_written_is_a_sentence(client, job, context):
    real = context.worker.ask

    def broken(task):
        answer = real(task)
        answer.set_exception(WorkerError("<b>broke off</b>"))
        return answer

    context.worker.ask = broken
    answer = client.get(f"/job/{job.name}/report")
    assert answer.status_code == 409
    assert "&lt;b&gt;broke off" in answer.text


def test_script_and_template_in_every_text_come_out_as_text(client, job, photo):
    bad = "<script>alert(1)</script>${alert(2)}\u202e"
    send(client, job, photo, name=bad, by=bad)
    decided(client, job, by=bad, reason=bad)
    view = client.get(f"/api/job/{job.name}")
    assert view.headers["content-type"] == "application/json"
    told = json.dumps(view.json())
    assert re.search(r"<script>alert\(1\)</script>\$\{alert\(2\)\}\[U\+202E\]", told)
    assert "\u202e" not in told


def test_an_error_nobody_foresaw_tells_nothing_of_the_inside(client, job, monkeypatch):
    monkeypatch.setattr("ui.page.job_routes.job_view", lambda *_: 1 / 0)
    answer = client.get(f"/api/job/{job.name}")
    assert answer.status_code == 500
    assert "did not foresee" in message(answer)
    assert "ZeroDivision" not in answer.text


def test_a_sealed_job_takes_no_photo(client, job, photo, tmp_path):
    send(client, job, photo)
    decided(client, job)
    seal_job(job, by="T", make_reports=lambda *_: {".html": b"<p>x</p>"})
    answer = send(client, job, make_photo(tmp_path / "late.jpg", 200))
    assert answer.status_code == 409
    assert "sealed" in message(answer)
    assert client.get(f"/job/{job.name}/report").text == "<p>x</p>"


def test_a_file_that_is_no_photo_is_called_by_its_own_name(client, job, tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("no photo")
    answer = send(client, job, path, name="notes.jpg")
    assert answer.status_code >= 400
    assert answer.text.count("notes.jpg") == 1
    assert str(os.getpid()) not in answer.text
