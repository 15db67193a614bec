"""The technician's way through the Bench, by mouse, finger and keys."""

from __future__ import annotations

import os
import re
import signal

import pytest
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from playwright.sync_api import expect

from tests.browser.conftest import (
    DESK,
    PHONE,
    SAMPLES,
    bench,
    make_job,
    ready,
    view_of,
)
from tests.browser.processes import children_of, eventually, is_running
from ui.record import Decided, add_event, job_folder, load_job


def choose(page, name):
    page.locator("input[type=file]").nth(1).set_input_files(SAMPLES / name)


def answer(page):
    return page.locator(".bench-answer")


@pytest.mark.slow
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_from_a_new_job_to_a_sealed_report(watched, server, home, size):
    page = ready(watched.open(server.address, **size))
    page.locator("#dw-open").click()
    expect(page.locator("#dw-not-opened textarea, #dw-not-opened input")).to_have_value(
        re.compile("Say who you are")
    )
    for field, text in {"by": "Ada", "part": "TIDE-25C", "patient": "Logger 7"}.items():
        page.locator(f"#dw-new-{field} textarea, #dw-new-{field} input").fill(text)
    page.locator("#dw-open").click()
    page.wait_for_url(re.compile(r"\?job="))
    ready(page)
    expect(page.locator(".bench-next")).to_contain_text("before you lift it")
    choose(page, "patient_before.jpg")
    expect(answer(page)).to_contain_text("Pin 1: lower left corner")
    expect(page.locator(".bench-findings")).to_contain_text("Photo: sharp")
    expect(page.locator(".bench-warnings, #cautions-title")).to_be_visible()
    page.locator("[data-stage=after]").click()
    choose(page, "after_turned.jpg")
    expect(answer(page)).to_contain_text("turned by 180 degrees")
    expect(page.locator(".bench-next")).to_contain_text("Do not power the board")
    expect(page.locator("[data-stage=after]")).to_contain_text("Stop")
    assert (
        page.evaluate("document.documentElement.scrollWidth")
        <= size["viewport"]["width"]
    )
    page.get_by_label("Stop", exact=True).check()
    page.get_by_label("Why").fill("Pin 1 is at the wrong corner.")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("text=decided by Ada")).to_be_visible()
    page.get_by_role("button", name="Finish job").click()
    expect(page.locator("text=The job is sealed.").first).to_be_visible()
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Report", exact=True).click()
    report = opened.value
    expect(report.locator("h1")).to_be_visible()
    expect(report.locator("body")).to_contain_text("Pin 1 is at the wrong corner.")
    name = re.search(r"job=([\w-]+)", page.url)[1]
    state = load_job(job_folder(home, name))
    assert state.step == "sealed"
    assert state.decision.event.tool_decision == "stop"


@pytest.mark.slow
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_row_from_the_side_is_judged_under_its_name(watched, server, home, size):
    job = make_job(home, {"before": "patient_before.jpg"})
    page = bench(watched, server, job, stage="side-1-4", **size)
    expect(page.locator("[data-stage=side-5-8]")).to_contain_text("if needed")
    choose(page, "side_lifted.jpg")
    expect(answer(page)).to_contain_text("Feet of leads 1 to 4: fault: lifted: lead 3")
    expect(page.locator("[data-stage=side-1-4]")).to_contain_text("fault")
    finding = page.locator(".bench-finding").first
    expect(finding).to_contain_text("Lead 3: +0.2")
    before = view_of(page)
    finding.get_by_role("button").click()
    assert view_of(page) != before
    assert (
        page.evaluate("document.documentElement.scrollWidth")
        <= size["viewport"]["width"]
    )
    page.reload()
    ready(page)
    expect(answer(page)).to_contain_text("Feet of leads 1 to 4")
    (photo,) = load_job(job).side_photos()
    assert photo.event.leads == (1, 4)


def test_everything_is_there_again_after_a_reload_and_in_a_second_tab(
    watched, server, turned
):
    page = bench(watched, server, turned, stage="after")
    expect(answer(page)).to_contain_text("turned by 180")
    page.get_by_label("Pin names").select_option("25xx")
    page.reload()
    ready(page)
    expect(answer(page)).to_contain_text("turned by 180")
    expect(page.get_by_label("Pin names")).to_have_value("25xx")
    second = page.context.new_page()
    watched.watch(second)
    second.goto(page.url)
    ready(second)
    expect(answer(second)).to_contain_text("turned by 180")


def test_a_photo_from_another_device_appears_by_itself(watched, server, home):
    job = make_job(home, {}, is_judged=False)
    desk = bench(watched, server, job)
    phone = bench(watched, server, job, **PHONE)
    choose(phone, "patient_before.jpg")
    expect(answer(desk)).to_contain_text("Pin 1: lower left", timeout=30_000)


def test_the_focus_stays_while_the_page_follows_the_job(watched, server, home):
    job = make_job(home, {"before": "patient_before.jpg"})
    page = bench(watched, server, job)
    finding = page.locator(".bench-finding button").last
    finding.focus()
    stale = Decided(decision="stop", by="T", tool_decision="check-by-hand")
    add_event(job, stale)
    expect(page.locator("text=decided by T")).to_be_visible()
    expect(finding).to_be_focused()


def drag(page, handle, dx, dy):
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx, y + dy, steps=5)
    page.mouse.up()


@pytest.mark.slow
def test_an_outline_is_set_right_undone_and_given_back(watched, server, home):
    job = make_job(home, {"before": "patient_before.jpg"})
    page = bench(watched, server, job)
    page.get_by_role("button", name="Set right by hand").click()
    handles = page.locator(".pane-handle")
    expect(handles).to_have_count(4)
    give = page.get_by_role("button", name="Give back to the tool")
    expect(give).to_be_disabled()
    drag(page, handles.nth(0), 30, -20)
    expect(give).to_be_enabled()
    page.get_by_role("button", name="Undo").click()
    expect(give).to_be_disabled()
    handles.nth(0).focus()
    page.keyboard.press("Shift+ArrowLeft")
    expect(give).to_be_enabled()
    give.click()
    expect(answer(page)).to_contain_text("By hand: outline set by hand by Ada")
    expect(handles).to_have_count(0)
    expect(page.locator(".bench-work")).to_be_hidden()
    state = load_job(job)
    assert state.answers[-1].event.corrections == (state.corrections[0].seq,)
    shown = state.answers[-1].event.answer["packages"][0]["outline_px"]
    fixed = state.corrections[0].event.value["outline_px"]
    assert sorted(map(tuple, shown)) == sorted(map(tuple, fixed))
    page.get_by_role("button", name=re.compile("Take back")).click()
    expect(page.locator(".bench-by-hand")).to_have_count(0)
    expect(page.locator(".bench-work")).to_be_hidden()
    assert load_job(job).corrections == ()


def test_pin_1_is_marked_by_a_tap_and_by_a_key(watched, server, home):
    job = make_job(home, {"before": "patient_before.jpg"})
    page = bench(watched, server, job, **PHONE)
    page.get_by_role("button", name="Set right by hand").tap()
    page.get_by_role("button", name="Mark pin 1").tap()
    handles = page.locator(".pane-handle")
    handles.nth(2).tap()
    expect(handles.nth(2)).to_have_class(re.compile("pin1"))
    handles.nth(1).focus()
    page.keyboard.press("Enter")
    expect(handles.nth(1)).to_have_class(re.compile("pin1"))
    page.get_by_role("button", name="Give back to the tool").tap()
    expect(answer(page)).to_contain_text("lower right corner, set by hand")
    expect(answer(page)).to_contain_text("pin-1 corner set by hand by Ada")


def test_sending_can_be_stopped(watched, server, home, tmp_path):
    job = make_job(home, {}, is_judged=False)
    page = bench(watched, server, job)
    watched.allowed.append("net::ERR")
    session = page.context.new_cdp_session(page)
    session.send(
        "Network.emulateNetworkConditions",
        {
            "offline": False,
            "latency": 20,
            "downloadThroughput": -1,
            "uploadThroughput": 200_000,
        },
    )
    large = tmp_path / "large.jpg"
    large.write_bytes(b"\xff\xd8\xff\xe0" + b"x" * 6_000_000)
    page.locator("input[type=file]").nth(1).set_input_files(large)
    expect(page.locator(".bench-bytes")).to_contain_text("of 6.0 MB")
    page.get_by_role("button", name="Stop sending").click()
    expect(page.locator(".bench-told")).to_have_text(
        "Sending was stopped. Nothing was added."
    )
    assert load_job(job).photos == ()


@pytest.mark.slow
def test_work_can_be_stopped_and_taken_up_again(watched, server, home, looked):
    bench(watched, server, looked)  # its worker gets ready
    (worker,) = eventually(lambda: children_of(server.process.pid))
    os.kill(worker, signal.SIGSTOP)  # work that would never end by itself
    job = make_job(home, {"before": "patient_before.jpg"}, is_judged=False)
    page = bench(watched, server, job)
    expect(page.locator(".bench-work")).to_contain_text("waiting")
    page.locator(".bench-work").get_by_role("button", name="Stop").click()
    expect(page.locator("text=Stopped. The photos")).to_be_visible()
    eventually(lambda: not is_running(worker))
    page.reload()
    ready(page)
    expect(page.locator("text=Stopped. The photos")).to_be_visible()
    page.get_by_role("button", name="Judge", exact=True).click()
    expect(page.locator("[data-stage=before]")).to_contain_text("looks right")


def test_a_live_picture_can_be_taken(watched, server, home):
    job = make_job(home, {}, is_judged=False)
    page = bench(watched, server, job)
    page.get_by_role("button", name="Live camera").click()
    expect(page.get_by_role("dialog")).to_contain_text("px")
    page.get_by_role("button", name="Take this picture").click()
    expect(page.locator("[data-stage=before]")).not_to_contain_text("no photo yet")
    assert load_job(job).photos[0].event.name == "live camera.jpg"


def test_nothing_is_sent_before_a_person_says_who_they_are(watched, server, home):
    job = make_job(home, {}, is_judged=False)
    page = bench(watched, server, job, who="")
    choose(page, "patient_before.jpg")
    expect(page.get_by_role("alert")).to_contain_text("Say who you are first")
    assert load_job(job).photos == ()


def file_field_by_keys(page):
    """Go by Tab alone to the field that chooses a photo, not the camera's."""
    page.locator(".bench-you input").focus()
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.type") == "file":
            break
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.hasAttribute('capture')") is False


def test_a_photo_is_chosen_by_keys_alone(watched, server, home):
    job = make_job(home, {}, is_judged=False)
    page = bench(watched, server, job)
    for is_last in (False, False, True):  # the screen may be drawn anew in between
        file_field_by_keys(page)
        try:
            with page.expect_file_chooser(timeout=5000) as asked:
                page.keyboard.press("Enter")
            break
        except PlaywrightTimeout:
            if is_last:
                raise
    asked.value.set_files(SAMPLES / "patient_before.jpg")
    expect(page.locator("[data-stage=before]")).not_to_contain_text("no photo yet")
    assert len(load_job(job).photos) == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<svg onload=alert(1)>", "whatever its name says"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 400, "No answer"),
    ],
)
def test_a_file_that_is_no_photo_is_told(
    watched, server, home, tmp_path, content, words
):
    watched.allowed.append("422")
    job = make_job(home, {}, is_judged=False)
    page = bench(watched, server, job)
    (tmp_path / "evil.jpg").write_bytes(content)
    page.locator("input[type=file]").nth(1).set_input_files(tmp_path / "evil.jpg")
    expect(page.locator(".dw-toast, .bench-answer", has_text=words)).to_be_visible()


def test_texts_of_a_job_are_shown_and_never_run(watched, server, home):
    bad = "<img src=x onerror=\"document.title='hit'\">${document.title='hit'}\u202e"
    job = make_job(home, {}, is_judged=False, part=bad, patient=bad)
    page = bench(watched, server, job, who=bad)
    expect(page.locator("h1")).to_contain_text("<img src=x onerror=")
    expect(page.locator("h1")).to_contain_text("${document.title='hit'}[U+202E]")
    page.goto(server.address)
    ready(page)
    expect(page.locator(".bench-jobs")).to_contain_text("<img src=x onerror=")
    assert page.locator(".bench-jobs img").count() == 0
    assert page.title() == "dotward"
