"""Nothing is lost: the server is killed in the middle of a job, and comes back."""

from __future__ import annotations

import signal
import time

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import SAMPLES, make_job, ready, serving
from tests.browser.processes import children_of, eventually, is_running
from ui.record import load_job, verify_job


@pytest.fixture(scope="module")
def own_server(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("survival")) as server:
        yield server


@pytest.mark.slow
def test_a_job_goes_on_after_the_server_was_killed_at_work(watched, own_server):
    watched.allowed += ["net::ERR", "Failed to load"]
    job = make_job(own_server.home, {}, is_judged=False)
    page = ready(watched.open(f"{own_server.address}/?job={job.name}"))
    page.locator(".bench-you input").fill("Ada")
    page.locator("input[type=file]").nth(1).set_input_files(
        SAMPLES / "patient_before.jpg"
    )
    expect(page.locator(".bench-work")).to_contain_text("Judging")
    children = children_of(own_server.process.pid)
    assert children
    own_server.kill()
    assert len(load_job(job).photos) == 1
    expect(page.get_by_role("alert")).to_contain_text("does not answer")
    eventually(lambda: not any(is_running(number) for number in children))
    own_server.start()
    expect(page.locator(".bench-answer")).to_contain_text("Pin 1: lower left")
    expect(page.locator(".dw-toast")).to_have_count(0)
    assert verify_job(job).problems == ()
    assert list((own_server.home / ".page" / "incoming").iterdir()) == []


def test_the_server_stops_soon_though_a_page_is_open(watched, own_server):
    watched.allowed += ["net::ERR", "Failed to load"]
    ready(watched.open(own_server.address))
    begun = time.monotonic()
    own_server.process.send_signal(signal.SIGINT)
    own_server.process.wait(timeout=20)
    assert time.monotonic() - begun < 8
