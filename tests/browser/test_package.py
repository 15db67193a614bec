"""The package is named by hand on the Bench, and both photos are judged by it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import DESK, PHONE, make_job, ready
from ui.record import load_job


@pytest.mark.slow
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_package_is_named_judged_by_and_taken_back(watched, server, home, size):
    photos = {"before": "patient_before.jpg", "after": "after_good.jpg"}
    job = make_job(home, photos)
    page = ready(watched.open(f"{server.address}/?job={job.name}&stage=before", **size))
    page.locator(".bench-you input").fill("Ada")
    alone = page.get_by_role("button", name="This photo", exact=True)
    if alone.is_visible():
        alone.click()
    page.get_by_role("button", name="Set right by hand").click()
    give = page.get_by_role("button", name="Give back to the tool")
    expect(give).to_be_disabled()
    page.locator(".bench-package select").select_option("SOIC-28")
    expect(give).to_be_enabled()
    width = size["viewport"]["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    give.click()
    expect(page.locator(".bench-fixes")).to_contain_text("package SOIC-28 set by hand")
    expect(page.locator(".bench-work")).to_be_hidden(timeout=30_000)
    named = load_job(job).answer_pair.event.answer["checks"]["package"]
    assert named["state"] == "unsure"
    assert "named SOIC-28, but its body is" in named["reasons"][0]
    page.get_by_role("button", name=re.compile("Take back")).click()
    expect(page.locator(".bench-fixes li")).to_have_count(0)
    expect(page.locator(".bench-work")).to_be_hidden(timeout=30_000)
    again = load_job(job).answer_pair.event.answer
    assert again["checks"]["package"]["state"] == "ok"
    assert again["decision"] == "no-fault-seen"
