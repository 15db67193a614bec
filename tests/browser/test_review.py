"""The Review screen in a real browser: the queue, verdicts, pictures, exports."""

from __future__ import annotations

import csv
import json
import random
import re
import shutil
from pathlib import Path

import pytest

from tests.benchmark.bench_review import make_jobs
from tests.browser.conftest import PHONE, WAIT_MS, ready, serving
from tests.browser.review_jobs import (
    HOSTILE,
    add_hostile_job,
    add_job,
    hostile_text,
)
from tests.browser.test_axe import serious
from tests.unit.ui import reports
from ui.page.review import PAGE_ROWS
from ui.record import load_job

REVIEWER = "Rev"


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("review") / "jobs") as server:
        yield server


@pytest.fixture
def jobs(server, tmp_path):
    """Three jobs that wait for a review, and no other."""
    home = server.home
    for old in (path for path in home.iterdir() if path.name[0] != "."):
        shutil.rmtree(old)
    return [
        add_job(home, tmp_path, reports.soldered(), "stop"),
        add_job(home, tmp_path, reports.pair_report(), "no-fault-seen", part="LEVEL"),
        add_job(home, tmp_path, reports.not_registered(), "retake", technician="Bo"),
    ]


@pytest.fixture
def expect():
    expect = pytest.importorskip("playwright.sync_api").expect
    expect.set_options(timeout=WAIT_MS)
    return expect


def review(watched, server, query="", **settings):
    page = ready(watched.open(f"{server.address}/review{query}", **settings), "review")
    page.get_by_label("Reviewer").fill(REVIEWER)
    page.get_by_label("Reviewer").blur()
    return page


def kinds(job):
    return [noted.event.KIND for noted in load_job(job).history]


def test_a_reviewer_goes_through_the_queue_by_keys(watched, server, jobs, expect):
    page = review(watched, server)
    said = page.locator(".review-said")
    expect(page.locator(".queue-summary")).to_have_text("Queue: 3 open")
    expect(page.locator(".queue-row")).to_have_count(3)
    expect(page.locator(".review-title")).to_have_text("TIDE-25C on Tide logger 7")
    expect(page.locator(".pane-picture image")).to_have_count(2)
    page.keyboard.press("a")
    expect(said).to_contain_text("Accepted")
    expect(page.locator(".saying").nth(2)).to_contain_text("Reviewer Rev, accepted")
    assert load_job(jobs[0]).reviews[-1].event.decision == "stop"
    page.keyboard.press("u")
    expect(said).to_contain_text("Taken back")
    assert kinds(jobs[0])[-2:] == ["reviewed", "withdrawn"]
    page.keyboard.press("j")
    expect(page.locator(".review-title")).to_have_text("LEVEL on Tide logger 7")
    page.keyboard.press("o")
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Stop").check()
    dialog.get_by_label("How do you know?").select_option("Seen under magnification")
    dialog.get_by_label("What you saw").fill("lead 3 floats, a clear gap")
    dialog.get_by_role("button", name="Overrule").click()
    expect(said).to_contain_text("Overruled")
    event = load_job(jobs[1]).reviews[-1].event
    assert (event.verdict, event.decision, event.by) == ("overruled", "stop", REVIEWER)
    assert event.reason == "Seen under magnification: lead 3 floats, a clear gap"
    row = page.locator(".queue-row").nth(1)
    expect(row).to_contain_text("Stop")
    expect(row).to_contain_text("overruled: Ada said no fault seen")
    expect(page.locator(".queue-summary")).to_have_text("Queue: 2 open")
    page.keyboard.press("k")
    expect(page.locator(".review-title")).to_have_text("TIDE-25C on Tide logger 7")
    page.keyboard.press("k")
    expect(said).to_contain_text("first of the queue")


def test_the_same_by_touch_on_a_phone(watched, server, jobs, expect):
    page = review(watched, server, **PHONE)
    page.locator(".queue-row").nth(1).tap()
    expect(page.locator(".queue-list")).to_be_hidden()
    expect(page.locator(".review-title")).to_have_text("LEVEL on Tide logger 7")
    page.get_by_role("button", name="Overrule").tap()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Check by hand").check()
    dialog.get_by_role("button", name="Overrule").tap()  # no text yet: not sent
    expect(dialog).to_be_visible()
    dialog.get_by_label("What you saw").fill("glare over lead 5")
    dialog.get_by_role("button", name="Overrule").tap()
    expect(page.locator(".review-said")).to_contain_text("Overruled")
    page.get_by_role("button", name="Undo").tap()
    dialog.get_by_label("What you saw").fill("the glare is gone in the other photo")
    dialog.get_by_role("button", name="Take back").tap()
    expect(page.locator(".review-said")).to_contain_text("Taken back")
    page.get_by_role("button", name="Accept").tap()
    expect(page.locator(".review-said")).to_contain_text("Accepted")
    page.get_by_role("button", name="Next").tap()
    expect(page.locator(".review-title")).to_have_text("TIDE-25C on Tide logger 7")
    page.get_by_role("button", name="Back").tap()
    expect(page.locator(".review-title")).to_have_text("LEVEL on Tide logger 7")
    assert load_job(jobs[1]).reviews[-1].event.verdict == "accepted"
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0


def test_filters_count_and_stay_after_a_reload(watched, server, jobs, expect):
    page = review(watched, server)
    page.get_by_role("group", name="Kind").get_by_role("button", name="Stop").click()
    expect(page.locator(".queue-row")).to_have_count(1)
    page.get_by_role("group", name="Kind").get_by_role("button", name="Any").click()
    expect(page.locator(".queue-row")).to_have_count(3)
    page.get_by_label("Technician", exact=True).fill("bo")
    expect(page.locator(".queue-row")).to_have_count(1)
    expect(page.locator(".queue-row")).to_contain_text("Bo")
    page.locator(".queue-row").click()
    expect(page.locator(".review-job")).to_contain_text("could not be laid over")
    page.reload()
    ready(page, "review")
    expect(page.locator(".queue-row")).to_have_count(1)
    expect(page.get_by_label("Technician", exact=True)).to_have_value("bo")
    expect(page.locator(".review-job")).to_contain_text(jobs[2].name)
    expect(page.get_by_label("Reviewer")).to_have_value(REVIEWER)


def test_pictures_wipe_blink_fade_and_zoom_to_a_finding(watched, server, jobs, expect):
    page = review(watched, server)
    expect(page.locator(".pane-picture image")).to_have_count(2)
    for key, word in (("w", "Wipe"), ("b", "Blink"), ("f", "Fade")):
        page.keyboard.press(key)
        pressed = page.locator('.pane-bar [aria-pressed="true"]')
        expect(pressed).to_have_text(word)
    zoom = page.locator(".pane-zoom")
    before = zoom.text_content()
    page.locator(".finding-go").first.click()
    expect(zoom).not_to_have_text(before)


def test_keys_can_be_switched_off_and_typing_is_no_command(
    watched, server, jobs, expect
):
    page = review(watched, server)
    page.get_by_label("Part").press_sequentially("a")
    expect(page.locator(".queue-row")).to_have_count(0)
    page.get_by_label("Part").fill("")
    expect(page.locator(".queue-row")).to_have_count(3)
    page.locator(".review-keys summary").click()
    page.get_by_label("Use single keys").uncheck()
    page.locator(".review-title").focus()
    page.keyboard.press("a")
    page.keyboard.press("j")
    page.get_by_role("button", name="Next").click()
    expect(page.locator(".review-title")).to_have_text("LEVEL on Tide logger 7")
    assert not any(load_job(job).reviews for job in jobs)


def test_next_goes_on_beyond_what_was_loaded(watched, server, jobs, expect):
    make_jobs(server.home, 70, random.Random(1))
    page = review(watched, server, "?show=all")
    rows = page.locator(".queue-row")
    expect(page.locator(".queue-summary")).to_have_text("Queue: 73 all")
    expect(rows).to_have_count(PAGE_ROWS)
    rows.last.click()
    expect(rows.last).to_have_attribute("aria-current", "true")
    page.keyboard.press("j")
    expect(rows).to_have_count(73)
    expect(rows.nth(PAGE_ROWS)).to_have_attribute("aria-current", "true")


def test_what_is_refused_is_said(watched, server, jobs, expect):
    watched.allowed += ["409", "404"]  # the browser notes refusals by itself
    page = review(watched, server)
    page.get_by_label("Reviewer").fill("ada")
    page.get_by_role("button", name="Accept").click()
    expect(page.locator(".review-said")).to_contain_text("second pair of eyes")
    page.get_by_label("Reviewer").fill("")
    page.get_by_role("button", name="Accept").click()
    expect(page.locator(".review-said")).to_contain_text("Say who you are")
    assert not load_job(jobs[0]).reviews
    other = ready(watched.open(f"{server.address}/review?job=../../etc"), "review")
    expect(other.locator(".review-job")).to_contain_text("There is nothing here.")


def test_a_review_in_another_tab_is_seen(watched, server, jobs, expect):
    first = review(watched, server)
    second = review(watched, server, f"?job={jobs[0].name}")
    second.get_by_role("button", name="Accept").click()
    expect(second.locator(".review-said")).to_contain_text("Accepted")
    expect(first.locator(".saying").nth(2)).to_contain_text("Reviewer Rev, accepted")


def test_a_board_let_go_against_the_tool_is_marked(
    watched, server, jobs, tmp_path, expect
):
    against = add_job(server.home, tmp_path, reports.soldered(), "no-fault-seen")
    page = review(watched, server, f"?job={against.name}")
    note = page.get_by_role("note")
    expect(note).to_contain_text("the tool says stop")
    page.get_by_text("Cautions", exact=True).click()
    expect(page.locator(".review-cautions")).to_contain_text("Source:")
    page.locator(".queue-row").first.click()
    expect(note).to_have_count(0)


def test_agreement_over_what_the_filters_leave(watched, server, jobs, expect):
    page = review(watched, server)
    page.get_by_role("button", name="Accept").click()
    expect(page.locator(".review-said")).to_contain_text("Accepted")
    page.locator(".agreement summary").click()
    figures = page.locator(".agreement-inside")
    expect(figures).to_contain_text("Same word on 2 of 3 jobs: 67 %")
    expect(figures).to_contain_text("no blind comparison")
    expect(figures).to_contain_text("doi:10.1177/001316446002000104")
    page.get_by_label("Technician", exact=True).fill("bo")
    expect(figures).to_contain_text("Same word on 1 of 1 job: 100 %")


def test_hostile_texts_are_text_on_the_screen_and_in_the_exports(
    watched, server, jobs, tmp_path, expect
):
    hostile = add_hostile_job(server.home, tmp_path)
    page = review(watched, server, f"?job={hostile.name}&show=all")
    visible = "<script>document.body.dataset.hit=1</script>"
    for place in (".review-title", ".saying >> nth=1", ".queue-row >> nth=3"):
        expect(page.locator(place)).to_contain_text(visible)
    shown = page.locator(".review-job")
    for field in ("part", "patient", "donor", "technician", "asked", "why", "reviewer"):
        expect(shown).to_contain_text(f"{field} {visible}")
    for field in ("overruled", "corrector", "correction", "tester", "outcome"):
        expect(shown).to_contain_text(f"{field} {visible}")
    for field in ("place", "joint", "check"):
        expect(shown).to_contain_text(f"{field} {visible}")
    expect(shown).to_contain_text("[U+202E]")
    page.get_by_role("button", name="Overrule…").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_label("Take the photo again").check()
    dialog.get_by_label("What you saw").fill("typed " + HOSTILE.replace("\x00", ""))
    dialog.get_by_role("button", name="Overrule").click()
    expect(page.locator(".saying").last).to_contain_text(f"typed {visible}")
    page.locator(".agreement summary").click()
    expect(page.locator(".agreement-inside")).to_contain_text("no blind comparison")
    nothing_ran(page)
    rows = {form: _download(page, word) for form, word in _FORMS.items()}
    (row,) = (r for r in csv.DictReader(rows["csv"]) if r["job"] == hostile.name)
    assert all(re.match(r"[^=+@-]|$", value) for value in row.values())
    assert f"typed {visible}" in row["review_reason"]
    assert "\u202e" not in "".join(row.values())
    told = {line["job"]: line for line in map(json.loads, rows["jsonl"])}
    assert told[hostile.name]["part"] == hostile_text("part")


def test_hostile_texts_are_text_at_the_bench_and_in_the_report(
    watched, server, jobs, tmp_path, expect
):
    hostile = add_hostile_job(server.home, tmp_path)
    visible = "<script>document.body.dataset.hit=1</script>"
    page = watched.open(f"{server.address}/?job={hostile.name}")
    expect(ready(page).locator("h1")).to_contain_text(f"part {visible}")
    page.goto(f"{server.address}/?job={hostile.name}&stage=after")
    expect(ready(page).locator("body")).to_contain_text(f"joint {visible}")
    nothing_ran(page)
    page.goto(f"{server.address}/job/{hostile.name}/report")
    for field in ("part", "asked", "correction", "overruled", "outcome", "joint"):
        expect(page.locator("body")).to_contain_text(f"{field} {visible}")
    nothing_ran(page)


def nothing_ran(page):
    assert page.evaluate("document.body.dataset.hit || ''") == ""
    assert page.locator("img[src='x']").count() == 0
    texts = page.locator("script").all_text_contents()
    assert not any("dataset.hit" in text for text in texts)


_FORMS = {"csv": "CSV", "jsonl": "JSON lines"}


def _download(page, word):
    with page.expect_download() as started:
        page.get_by_role("link", name=word).click()
    return Path(started.value.path()).read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", [{}, PHONE], ids=["desk", "phone"])
def test_the_review_has_no_serious_finding(watched, server, jobs, expect, theme, size):
    page = review(watched, server, color_scheme=theme, **size)
    expect(page.locator(".pane-picture image")).to_have_count(2)
    assert page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches") == (
        theme == "dark"
    )
    page.locator(".agreement summary").click()
    expect(page.locator(".agreement-inside")).to_contain_text("no blind comparison")
    assert serious(page) == []
    page.get_by_role("button", name="Overrule").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    assert serious(page) == []
