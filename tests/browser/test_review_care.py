"""The Review screen with care: whose verdict it is, what is lost, what is let go."""

from __future__ import annotations

import shutil

import pytest

from tests.browser.conftest import PHONE, WAIT_MS, bench, ready, serving
from tests.browser.review_jobs import add_job, add_unseen_job
from tests.browser.test_axe import serious
from tests.unit.ui import reports
from ui.record import load_job

FIRST, SECOND, THIRD = (
    "TIDE-25C on Logger 1",
    "LEVEL on Logger 2",
    "TIDE-25C on Spare 3",
)
GONE = ["ERR_CONNECTION", "ERR_EMPTY_RESPONSE", "ERR_SOCKET", "ERR_INCOMPLETE", "503"]


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("care") / "jobs") as server:
        yield server


@pytest.fixture
def jobs(server, tmp_path):
    """Three jobs that wait for a review: a stop, a sound one, one to take again."""
    home = server.home
    for old in (path for path in home.iterdir() if path.name[0] != "."):
        shutil.rmtree(old)
    sound, stopped, again = (
        reports.pair_report(),
        reports.soldered(),
        reports.not_registered(),
    )
    return [
        add_job(home, tmp_path, stopped, "stop", patient="Logger 1"),
        add_job(
            home, tmp_path, sound, "no-fault-seen", part="LEVEL", patient="Logger 2"
        ),
        add_job(home, tmp_path, again, "retake", patient="Spare 3"),
    ]


@pytest.fixture
def expect():
    expect = pytest.importorskip("playwright.sync_api").expect
    expect.set_options(timeout=WAIT_MS)
    return expect


def review(watched, server, query="", **settings):
    page = ready(watched.open(f"{server.address}/review{query}", **settings), "review")
    page.get_by_label("Reviewer").fill("Rev")
    page.get_by_label("Reviewer").blur()
    return page


def held(page, path):
    """Keep what is sent to ``path`` until the test lets it go on."""
    waiting = []

    def hold(route):
        waiting.append(route)

    page.route(path, hold)
    return waiting


def test_who_goes_on_at_once_waits_for_the_verdict(watched, server, jobs, expect):
    page = review(watched, server)
    title, said = page.locator(".review-title"), page.locator(".review-said")
    expect(title).to_have_text(FIRST)
    waiting = held(page, "**/accept")
    page.keyboard.press("a")
    page.keyboard.press("j")
    expect(said).to_contain_text("still being recorded")
    expect(title).to_have_text(FIRST)
    expect(page.get_by_role("button", name="Accept")).to_be_disabled()
    waiting.pop().continue_()
    expect(title).to_have_text(SECOND)
    expect(said).to_be_empty()
    expect(page.locator(".queue-row").nth(0)).to_contain_text("accepted")
    expect(page.locator(".queue-row").nth(1)).not_to_contain_text("accepted")
    expect(page.locator(".saying").nth(2)).to_contain_text("not reviewed")
    assert [len(load_job(job).reviews) for job in jobs] == [1, 0, 0]


def test_a_refused_verdict_is_not_left_behind(watched, server, jobs, expect):
    watched.allowed.append("409")
    page = review(watched, server)
    page.get_by_label("Reviewer").fill("ada")
    page.get_by_label("Reviewer").blur()
    waiting = held(page, "**/accept")
    page.keyboard.press("a")
    page.keyboard.press("j")
    expect(page.locator(".review-said")).to_contain_text("still being recorded")
    waiting.pop().continue_()
    expect(page.locator(".review-said")).to_contain_text("second pair of eyes")
    expect(page.locator(".review-title")).to_have_text(FIRST)


def test_boards_let_go_against_the_tool_lead_with_a_caution(
    watched, server, jobs, tmp_path, expect
):
    against = add_job(server.home, tmp_path, reports.soldered(), "no-fault-seen")
    unseen = add_unseen_job(server.home, tmp_path)
    page = review(watched, server)
    rows, bar = page.locator(".queue-row"), page.locator(".review-bar")
    for job, word, text in (
        (against, "Against the tool: stop", "the tool says stop"),
        (unseen, "No comparison was made", "there is no photo after reflow"),
    ):
        row = rows.and_(page.locator(f"[data-job='{job.name}']"))
        expect(row.locator(".dw-state")).to_have_text(word)
        expect(row).to_contain_text("decided: no fault seen")
        row.click()
        expect(page.get_by_role("note")).to_contain_text(text)
        expect(bar).to_contain_text(f"{word}. Be sure before you accept.")
    page.get_by_role("group", name="Kind").get_by_role("button", name="Differs").click()
    expect(rows).to_have_count(3)  # one was called so by hand, beside the two
    expect(rows.filter(has_text="decided: no fault seen")).to_have_count(2)
    assert serious(page) == []


def test_a_page_that_is_gone_is_said_and_taken_back(watched, server, jobs, expect):
    watched.allowed += GONE
    page = review(watched, server)
    accept = page.get_by_role("button", name="Accept")
    expect(accept).to_be_enabled()
    server.kill()
    lost = page.get_by_role("alert").filter(has_text="nothing can be recorded")
    expect(lost).to_be_visible()
    for name in ("Accept", "Overrule"):
        expect(page.get_by_role("button", name=name)).to_be_disabled()
    expect(page.locator(".review-title")).to_have_text(FIRST)
    server.start()
    expect(accept).to_be_enabled()
    expect(lost).to_have_count(0)
    accept.click()
    expect(page.locator(".review-said")).to_contain_text("Accepted")


def test_a_verdict_without_an_answer_is_not_called_recorded(
    watched, server, jobs, expect
):
    watched.allowed.append("ERR_FAILED")
    page = review(watched, server)
    page.route("**/accept", lambda route: route.abort())
    page.get_by_role("button", name="Accept").click()
    said = page.locator(".review-said")
    expect(said).to_contain_text("it is not known whether this was recorded")
    expect(page.locator(".queue-row").first).not_to_contain_text("accepted")


def test_reviewer_and_technician_keep_their_own_names(watched, server, jobs, expect):
    page = review(watched, server)
    page.goto(f"{server.address}/?job={jobs[0].name}")
    you = ready(page).locator(".bench-you input")
    expect(you).to_have_value("")
    you.fill("Ada")
    page.goto(f"{server.address}/review")
    ready(page, "review")
    expect(page.get_by_label("Reviewer")).to_have_value("Rev")
    page.goto(f"{server.address}/?job={jobs[0].name}")
    expect(ready(page).locator(".bench-you input")).to_have_value("Ada")


def test_a_name_kept_before_roles_had_their_own_is_used(watched, server, jobs, expect):
    page = bench(watched, server, jobs[0], who="Kept")
    page.goto(f"{server.address}/review")
    expect(ready(page, "review").get_by_label("Reviewer")).to_have_value("Kept")


def test_what_was_typed_to_overrule_stays_until_it_is_sent(
    watched, server, jobs, expect
):
    watched.allowed.append("ERR_FAILED")
    page = review(watched, server)
    dialog = page.get_by_role("dialog")
    typed = dialog.get_by_label("What you saw")
    page.keyboard.press("o")
    dialog.get_by_label("No fault seen").check()
    dialog.get_by_label("How do you know?").select_option("Measured at the bench")
    typed.fill("0 ohm, no bridge")
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    page.keyboard.press("o")
    expect(typed).to_have_value("0 ohm, no bridge")
    expect(dialog.get_by_label("No fault seen")).to_be_checked()
    expect(dialog.locator(".overrule-warning")).to_be_visible()
    page.route("**/overrule", lambda route: route.abort())
    dialog.get_by_role("button", name="Overrule").click()
    expect(page.locator(".review-said")).to_contain_text("not known")
    page.unroute("**/overrule")
    page.keyboard.press("o")
    expect(typed).to_have_value("0 ohm, no bridge")
    dialog.get_by_role("button", name="Overrule").click()
    expect(page.locator(".review-said")).to_contain_text("Overruled")
    event = load_job(jobs[0]).reviews[-1].event
    assert event.reason == "Measured at the bench: 0 ohm, no bridge"
    page.keyboard.press("o")
    expect(typed).to_have_value("")


def test_boards_tell_jobs_apart_and_can_be_looked_for(watched, server, jobs, expect):
    page = review(watched, server, **PHONE)
    rows = page.locator(".queue-row")
    expect(rows.locator(".queue-board")).to_have_text(
        ["on Logger 1", "on Logger 2", "on Spare 3"]
    )
    page.get_by_label("Board", exact=True).fill("spare")
    expect(rows).to_have_count(1)
    expect(rows).to_contain_text("on Spare 3")
    page.reload()
    ready(page, "review")
    expect(page.get_by_label("Board", exact=True)).to_have_value("spare")
    expect(rows).to_have_count(1)


def test_the_browser_goes_back_to_the_job_before(watched, server, jobs, expect):
    page = review(watched, server)
    title, rows = page.locator(".review-title"), page.locator(".queue-row")
    expect(title).to_have_text(FIRST)
    rows.nth(1).click()
    expect(title).to_have_text(SECOND)
    rows.nth(2).click()
    expect(title).to_have_text(THIRD)
    page.go_back()
    expect(title).to_have_text(SECOND)
    expect(rows.nth(1)).to_have_attribute("aria-current", "true")
    page.go_back()
    expect(title).to_have_text(FIRST)
    page.go_forward()
    expect(title).to_have_text(SECOND)


def test_quick_steps_leave_one_entry_in_the_history(watched, server, jobs, expect):
    page = review(watched, server)
    expect(page.locator(".review-title")).to_have_text(FIRST)
    before = page.evaluate("history.length")
    page.evaluate(
        """() => { for (let n = 0; n < 2; n += 1) {
        setTimeout(() => document.dispatchEvent(
            new KeyboardEvent("keydown", { key: "j" })), 50 * n); } }"""
    )
    expect(page.locator(".review-title")).to_have_text(THIRD)
    assert page.evaluate("history.length") == before + 1
    page.go_back()
    expect(page.locator(".review-title")).to_have_text(FIRST)
