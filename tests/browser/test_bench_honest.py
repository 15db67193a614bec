"""What the Bench shows is what counts now, and nothing given to it is lost unsaid."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import DESK, PHONE, bench, make_job, ready
from tests.browser.review_jobs import checker_of, draw_photo
from tests.unit.ui import reports
from ui.record import (
    Decided,
    Opened,
    Reviewed,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
)

CLEAR = reports.pair_report(decision="no-fault-seen")
CURRENT = '[data-stage][aria-current="step"]'


@pytest.fixture
def put(tmp_path):
    """Add a drawn photo to a job."""

    def add(job, stage, shade, role="patient", **more):
        photo = draw_photo(tmp_path / f"{stage}-{role}-{shade}.png", shade)
        return add_photo(job, photo, stage=stage, role=role, by="Ada", **more).seq

    return add


@pytest.fixture
def clear(home, put):
    """Give a job whose comparison sees no fault."""
    job = make_job(home, {}, is_judged=False)
    put(job, "before", 0)
    put(job, "after", 40)
    check_job(job, checker_of(CLEAR))
    return job


def stopped(watched, server, job, **settings):
    """Open a job whose photos are not judged by themselves, as a person stopped it."""
    page = bench(watched, server, job, **settings)
    page.evaluate(
        "name => sessionStorage.setItem(`dotward.stopped.${name}`, 'yes')", job.name
    )
    return page


def answer(page):
    return page.locator(".bench-answer")


def not_good(page):
    expect(answer(page)).to_have_class(re.compile(r"\b(unsure|fault)\b"))
    expect(page.locator(".bench-answer .dw-state.ok")).to_have_count(0)


def test_only_the_comparison_that_counts_is_shown(watched, server, home, put):
    opening = Opened(
        job=new_job_name(), technician="Ada", part="p", patient="b", donor="spare"
    )
    job = open_job(home, opening)
    put(job, "before", 0)
    put(job, "after", 40, "donor")
    check_job(job, checker_of(CLEAR))
    put(job, "before", 80, "donor")
    check_job(job, checker_of(reports.soldered()))
    page = bench(watched, server, job, stage="after-donor")
    expect(answer(page)).to_contain_text("Stop")
    not_good(page)


def test_an_answer_older_than_the_photos_is_not_shown_as_good(
    watched, server, clear, put
):
    page = stopped(watched, server, clear, stage="after")
    expect(answer(page)).to_have_class(re.compile(r"\bok\b"))
    put(clear, "lands", 90)
    expect(answer(page)).to_contain_text("Older than the photos: judge again")
    not_good(page)
    expect(page.locator(".bench-finding.ok")).to_have_count(0)
    expect(page.get_by_role("button", name="Judge", exact=True)).to_be_visible()
    put(clear, "before", 120, replaces=2)
    expect(answer(page)).to_contain_text("Not compared yet: it has to be judged")
    not_good(page)


def test_an_answer_by_earlier_limits_is_told_and_judging_offered(
    watched, server, home, put
):
    job = make_job(home, {}, is_judged=False)
    put(job, "before", 0)
    put(job, "after", 40)
    check_job(job, replace(checker_of(CLEAR), made_with={"limits": "0" * 64}))
    page = bench(watched, server, job, stage="after")
    expect(answer(page)).to_contain_text("Judged by earlier limits: judge again")
    not_good(page)
    page.get_by_role("button", name="Judge", exact=True).click()
    expect(answer(page)).not_to_contain_text("earlier limits")
    assert len(load_job(job).answers) == 4


@pytest.mark.parametrize("size", [{}, PHONE], ids=["desk", "phone"])
def test_who_overruled_the_decision_is_told(watched, server, clear, size):
    decided = Decided(decision="no-fault-seen", tool_decision="no-fault-seen", by="Ada")
    review = Reviewed(
        verdict="overruled",
        by="Bo",
        decided=add_event(clear, decided).seq,
        decision="stop",
        reason="A bridge at lead 4.",
    )
    page = bench(watched, server, clear, stage="after", **size)
    expect(page.locator("text=decided by Ada")).to_be_visible()
    expect(page.locator(".bench-power")).to_be_hidden()
    cautions = page.locator(".bench-cautions")
    expect(cautions).to_contain_text("first power-up")
    add_event(clear, review)
    told = page.locator("section", has_text="Your decision").locator(".bench-review")
    expect(told).to_contain_text("Overruled by Bo: Stop")
    expect(told).to_contain_text("A bridge at lead 4.")
    expect(page.locator(".bench-power")).to_have_text("Do not power the board.")
    expect(cautions).to_contain_text("Do not power the board.")
    expect(cautions).not_to_contain_text("first power-up")
    not_good(page)
    page.goto(server.address)
    ready(page)
    row = page.locator(f".bench-job[href*='{clear.name}']")
    expect(row).to_contain_text("Stop (overruled by Bo)")


def test_a_photo_goes_to_the_stage_at_which_it_was_asked_for(
    watched, server, home, put, tmp_path
):
    job = make_job(home, {}, is_judged=False)
    page = stopped(watched, server, job)
    put(job, "lands", 40)
    expect(page.locator("[data-stage=lands]")).not_to_contain_text("no photo yet")
    expect(page.locator(CURRENT)).to_have_attribute("data-stage", "before")
    with page.expect_file_chooser() as asked:
        page.get_by_text("Choose photo").click()
    page.locator("[data-stage=after]").click()
    asked.value.set_files(draw_photo(tmp_path / "mine.png", 200))
    expect(page.locator(".bench-told")).to_have_text("Added to “Before lifting”.")
    expect(page.locator(CURRENT)).to_have_attribute("data-stage", "after")
    assert [p.event.stage for p in load_job(job).photos] == ["lands", "before"]


def test_an_outline_being_set_outlives_what_others_add(watched, server, clear, put):
    page = stopped(watched, server, clear, stage="before")
    page.get_by_role("button", name="Set right by hand").click()
    page.locator(".pane-handle").nth(0).focus()
    page.keyboard.press("Shift+ArrowLeft")
    give = page.get_by_role("button", name="Give back to the tool")
    expect(give).to_be_enabled()
    put(clear, "lands", 90)
    expect(page.locator("[data-stage=lands]")).not_to_contain_text("no photo yet")
    expect(give).to_be_enabled()
    page.locator("[data-stage=after]").click()
    expect(page.get_by_role("alert")).to_contain_text("was dropped")
    expect(page.locator(".pane-handle")).to_have_count(0)


def test_what_was_not_sent_stays_told_when_the_page_answers_again(
    watched, server, clear, tmp_path
):
    watched.allowed += ["net::ERR", "Failed to load"]
    page = stopped(watched, server, clear, stage="lands")
    page.get_by_label("Why").fill("Looked at it myself.")
    page.get_by_label("Stop", exact=True).check()
    page.context.set_offline(True)
    page.get_by_role("button", name="Write it down").click()
    field = page.locator("input[type=file]").nth(1)
    field.set_input_files(draw_photo(tmp_path / "mine.png", 90))
    act = page.locator(".dw-toast[data-kind=act]")
    photo = page.locator(".dw-toast[data-kind=photo]")
    lost = page.locator(".dw-toast[data-kind=lost]")
    expect(act).to_contain_text("Not sent: the page gave no answer.")
    expect(photo).to_contain_text("Not sent. Nothing was added: choose it again")
    expect(lost).to_contain_text("does not answer")
    page.context.set_offline(False)
    expect(lost).to_have_count(0)
    expect(act).to_be_visible()
    expect(photo).to_be_visible()
    expect(page.get_by_label("Why")).to_have_value("Looked at it myself.")
    act.get_by_role("button", name="Close").click()
    expect(act).to_have_count(0)
    page.get_by_role("button", name="Send it again").click()
    expect(page.locator("[data-stage=lands]")).not_to_contain_text("no photo yet")
    expect(photo).to_have_count(0)
    assert load_job(clear).photos[-1].event.name == "mine.png"


def test_what_was_typed_outlives_a_reload(watched, server, clear, put):
    page = stopped(watched, server, clear, stage="after")
    page.get_by_label("Why").fill("Seen under the microscope.")
    page.get_by_label("No fault seen", exact=True).check()
    page.reload()
    ready(page)
    expect(page.get_by_label("Why")).to_have_value("Seen under the microscope.")
    expect(page.get_by_label("No fault seen", exact=True)).to_be_checked()
    put(clear, "lands", 90)
    expect(page.locator("text=Something was added since you chose")).to_be_visible()
    expect(page.get_by_label("No fault seen", exact=True)).not_to_be_checked()
    page.get_by_label("Stop", exact=True).check()
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("text=decided by Ada")).to_be_visible()
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_label("Why")).to_have_value("")
    expect(page.get_by_label("Stop", exact=True)).not_to_be_checked()


def test_the_form_of_a_new_job_outlives_a_reload_and_shows_no_empty_bar(
    watched, server
):
    page = ready(watched.open(server.address))
    for name, text in {
        "part": "TIDE-25C",
        "donor": "Spare 12",
        "asked": "Move",
    }.items():
        page.locator(f"#dw-new-{name} textarea, #dw-new-{name} input").fill(text)
    page.reload()
    ready(page)
    for name, text in {
        "part": "TIDE-25C",
        "donor": "Spare 12",
        "asked": "Move",
    }.items():
        field = page.locator(f"#dw-new-{name} textarea, #dw-new-{name} input")
        expect(field).to_have_value(text)
    expect(page.locator(".form", has=page.locator("#dw-opened"))).to_be_hidden()


DROP = """([name, bytes]) => {
  const files = new DataTransfer();
  files.items.add(new File([new Uint8Array(bytes)], name));
  const about = { dataTransfer: files, bubbles: true, cancelable: true };
  const event = new DragEvent('drop', about);
  return !document.querySelector('h1').dispatchEvent(event);
}"""


def test_a_dropped_photo_is_one_chosen_for_the_stage_shown(
    watched, server, home, tmp_path
):
    photo = draw_photo(tmp_path / "dropped.png", 90)
    dropped = [photo.name, list(photo.read_bytes())]
    page = ready(watched.open(server.address))
    assert page.evaluate(DROP, dropped)
    expect(page.get_by_role("alert")).to_contain_text("Open a job at the Bench")
    job = make_job(home, {}, is_judged=False)
    page = stopped(watched, server, job, stage="lands")
    assert page.evaluate(DROP, dropped)
    expect(page.locator("[data-stage=lands]")).not_to_contain_text("no photo yet")
    (noted,) = load_job(job).photos
    assert (noted.event.stage, noted.event.name) == ("lands", "dropped.png")


def test_a_job_leads_to_all_jobs_and_their_list_goes_on(watched, server, home):
    opening = Opened(
        job="", technician="Cleo", part="24C02", patient="Gauge", donor="Spare 9"
    )
    jobs = [open_job(home, replace(opening, job=new_job_name())) for _ in range(13)]
    page = bench(watched, server, jobs[0])
    page.get_by_role("link", name="All jobs").click()
    ready(page)
    rows = page.locator(".bench-job")
    expect(rows).to_have_count(12)
    expect(rows.first).to_contain_text("Gauge, to Spare 9")
    expect(rows.first).to_contain_text("by Cleo")
    page.get_by_role("button", name="Show more jobs").click()
    expect(rows.nth(12)).to_be_focused()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_message_leaves_room_for_what_it_asks_for(watched, server, turned, size):
    watched.allowed += ["409"]
    page = bench(watched, server, turned, stage="after", **size)
    page.get_by_label("No fault seen", exact=True).check()
    write = page.get_by_role("button", name="Write it down")
    write.click()
    told = page.locator(".dw-toast")
    expect(told).to_contain_text("needs a reason")
    page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    page.wait_for_function(
        """() => { const [a, b] = [".bench-choices ~ button", ".dw-toast"].map(
          (name) => document.querySelector(name).getBoundingClientRect());
        return a.bottom < b.top && b.bottom <= innerHeight; }"""
    )
    page.evaluate("scrollTo(0, 0)")
    expect(told).to_be_in_viewport(ratio=1)
