"""The report: complete, readable by machine and person, and deaf to its texts."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from tests.unit.record.helpers import fake_checker, make_photo, open_test_job
from tests.unit.report.helpers import CHECKER, HOSTILE, full_job, package
from tests.unit.test_side_check import UNREAD, view
from tests.unit.ui.reports import photo as shown_photo
from ui.cautions import CAUTIONS
from ui.contract import side_seen_json
from ui.record import (
    Decided,
    PhotoAdded,
    Reviewed,
    add_event,
    add_photo,
    check_job,
    load_job,
    photo_path,
    seal_job,
    verify_job,
)
from ui.report import build_report, make_reports, render_html, render_pdf
from ui.report.figures import photo_jpeg
from ui.report.fonts import in_typeface
from ui.report.measures import feet_rows, unseen
from ui.words import STATE_WORDS
from vision.results import SideSeen


class Page(HTMLParser):
    """Collects tags with their attributes and all text."""

    def __init__(self, content: bytes) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.text = ""
        self.feed(content.decode("utf-8"))

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def all(self, name):
        return [attrs for tag, attrs in self.tags if tag == name]


@pytest.fixture
def plain(home, tmp_path):
    return full_job(home, tmp_path)


@pytest.fixture
def hostile(home, tmp_path):
    return full_job(home, tmp_path, HOSTILE + "x" * 300)


@pytest.fixture
def home(tmp_path):
    return tmp_path / "jobs"


def page_of(job):
    return Page(make_reports(job, load_job(job))[".html"])


def test_report_says_everything_asked_of_it(plain):
    text = page_of(plain).text
    state = load_job(plain)
    for wanted in (
        "Stop",
        "Move the calibration memory.",
        "Photos: Before lifting",
        "Photos: After reflow",
        "0.04 ± 0.03\u00a0mm",
        "\u22120.02 ± 0.03\u00a0mm",
        "0.3 ± 0.2°",
        "12 ± 6\u00a0%",
        "50\u00a0%",
        "Bridge between leads 3 and 4",
        "Lead 5: cannot tell: glare on the foot",
        "Leads on their lands: cannot tell: no photo of the bare lands",
        "Bare lands: no photo",
        "Note: the board beside the chip got browner",
        "Put right by hand",
        "did not work",
        state.head,
        f"Events in the journal{state.count}",
    ):
        assert wanted in re.sub(r"\n", "", text), wanted
    for photo in state.photos:
        assert photo.event.sha256 in text
    for caution in CAUTIONS:
        # Nobody is told how to power a board that was stopped.
        is_shown = caution.when != "first power"
        assert (caution.text in text) == is_shown
        assert caution.source in text


def decided_job(home, tmp_path, tool, decision):
    """Give a job that was decided with the tool's answer before it."""
    job = open_test_job(home)
    for shade, stage in ((40, "before"), (90, "after")):
        photo = make_photo(tmp_path / f"{stage}.jpg", shade)
        add_photo(job, photo, stage=stage, by="T")
    check_job(job, fake_checker(tool))
    event = Decided(decision=decision, by="Ada", tool_decision=tool, reason="seen")
    add_event(job, event)
    return job


def banner_of(job):
    report = build_report(job, load_job(job))
    return f"{report.banner_sign} {report.banner_word}", report.banner_text


def review(job, decision, verdict):
    seq = load_job(job).decision.seq
    event = Reviewed(
        verdict=verdict, by="Rev", decided=seq, decision=decision, reason="seen"
    )
    add_event(job, event)


def test_a_cleared_board_is_warned_of_its_first_power(home, tmp_path):
    job = decided_job(home, tmp_path, "no-fault-seen", "no-fault-seen")
    text = page_of(job).text
    assert all(caution.text in text for caution in CAUTIONS)
    assert banner_of(job)[1] == "Decided by Ada; not reviewed yet."


def test_a_board_that_is_not_cleared_is_not_told_of_its_first_power(home, tmp_path):
    job = decided_job(home, tmp_path, "check-by-hand", "check-by-hand")
    assert "current-limited" not in page_of(job).text


def test_a_board_let_go_against_a_stop_is_said_to_be_so_at_the_top(home, tmp_path):
    job = decided_job(home, tmp_path, "stop", "no-fault-seen")
    assert banner_of(job) == (
        "! No fault seen, against the tool's Stop",
        "Decided by Ada; not reviewed yet. Do not power the board.",
    )
    assert "current-limited" not in page_of(job).text
    review(job, "no-fault-seen", "accepted")
    assert banner_of(job) == (
        "! No fault seen, against the tool's Stop",
        "Decision accepted in review by Rev.",
    )


def test_an_overruling_to_stop_leads_the_report(home, tmp_path):
    job = decided_job(home, tmp_path, "no-fault-seen", "no-fault-seen")
    review(job, "stop", "overruled")
    assert banner_of(job) == (
        "\u2715 Stop",
        "Decision overruled in review by Rev. Do not power the board.",
    )
    (decision,) = (
        section
        for section in build_report(job, load_job(job)).sections
        if section.heading == "Decision"
    )
    at = decision.paragraphs.index("Rev overruled this in review: Stop.")
    assert decision.paragraphs[at + 1 : at + 3] == ("Reason given:", "seen")
    assert "current-limited" not in page_of(job).text


def test_report_claims_no_class_of_a_standard(plain):
    text = page_of(plain).text.lower()
    assert not re.search(r"\bclass \d|\bmeets\b|\bcomplies\b|\bipc\b", text)


def test_html_stands_alone_and_cannot_act(hostile):
    page = page_of(hostile)
    assert not page.all("script")
    assert not page.all("link")
    assert not page.all("iframe")
    assert not page.all("a")
    for _, attrs in page.tags:
        assert not [name for name in attrs if name.startswith("on")]
    assert all(i["src"].startswith("data:image/jpeg;base64,") for i in page.all("img"))
    (policy,) = [m["content"] for m in page.all("meta") if "http-equiv" in m]
    assert policy.startswith("default-src 'none'")


def test_hostile_texts_are_shown_as_text(hostile):
    content = make_reports(hostile, load_job(hostile))[".html"]
    assert b"<script" not in content
    page = Page(content)
    assert "<script>alert(1)</script>${7*7}{{7*7}}../../" in page.text
    for spelt in ("[U+0000]", "[U+001B]", "[U+202E]", "[U+200B]", "[U+D800]"):
        assert spelt in page.text
    for hidden in ("\x00", "\x1b", "\u202e", "\u200b"):
        assert hidden.encode() not in content


def test_html_is_made_for_screen_readers(plain):
    page = page_of(plain)
    assert page.all("html")[0]["lang"] == "en"
    assert len(page.all("h1")) == 1
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h\d", tag)]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert page.all("img")
    assert all(len(image["alt"]) > 20 for image in page.all("img"))
    assert len(page.all("caption")) == len(page.all("table"))
    assert {cell["scope"] for cell in page.all("th")} == {"col", "row"}
    assert "1 solder bridges crossed" in page.all("img")[1]["alt"]


def test_broken_photo_is_named_not_hidden(plain):
    photo = load_job(plain).photos[0].event
    assert isinstance(photo, PhotoAdded)
    path = photo_path(plain, photo.sha256, photo.suffix)
    path.chmod(0o644)
    path.write_bytes(b"\xff\xd8\xff broken")
    text = page_of(plain).text
    assert "the photo cannot be shown" in text
    assert str(plain) not in text


@pytest.mark.parametrize("harm", ["was changed", "is missing"])
def test_a_photo_that_is_not_as_it_was_added_is_said_and_not_drawn(plain, harm):
    """Another photo in its place would be drawn as if it had been judged."""
    photo = load_job(plain).photos[0].event
    path = photo_path(plain, photo.sha256, photo.suffix)
    shown = len(page_of(plain).all("img"))
    path.unlink()
    if harm == "was changed":
        make_photo(path, 250)
    page = page_of(plain)
    assert len(page.all("img")) == shown - 1
    assert f"photo of event 2 {harm} (photos/" in page.text
    assert "but a photo is not as it was added" in page.text
    assert "Errno" not in page.text


def test_unsure_pin_1_is_not_marked(plain):
    report = build_report(plain, load_job(plain))
    figures = [figure for section in report.sections for figure in section.figures]
    assert all("pin 1 ringed" in figure.alt for figure in figures)
    answer = {"format": "dotward.look/1", "packages": [package("unsure")]}
    assert any(line.startswith("Pin 1: cannot tell") for line in unseen(answer))


def test_pdf_holds_its_typeface_and_describes_its_pictures(hostile):
    content = make_reports(hostile, load_job(hostile))[".pdf"]
    assert content.startswith(b"%PDF-")
    assert content.count(b"/FontFile2") == 2
    assert content.count(b"/Alt ") == 2
    assert b"/JavaScript" not in content
    assert b"/URI" not in content


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="needs poppler's pdftotext")
def test_pdf_text_can_be_read_back(hostile, tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(make_reports(hostile, load_job(hostile))[".pdf"])
    command = ["pdftotext", "-raw", path, "-"]
    text = subprocess.run(command, capture_output=True, check=True).stdout.decode()
    joined = re.sub(r"\s", "", text)
    assert "<script>alert(1)</script>" in joined
    assert "[U+202E]" in joined
    assert load_job(hostile).head in joined


def test_typeface_spells_out_what_it_lacks():
    assert in_typeface("Grüße ± µ Ω 漢") == "Grüße ± µ Ω [U+6F22]"


def test_sealed_job_keeps_reports_that_name_its_head(plain):
    entry = seal_job(plain, by="T", make_reports=make_reports)
    names = sorted(entry.data["reports"], key=lambda name: name.rsplit(".")[1])
    assert [name.rsplit(".", 1)[1] for name in names] == ["html", "pdf"]
    page = Page((plain / "reports" / names[0]).read_bytes())
    named = {m["name"]: m["content"] for m in page.all("meta") if "name" in m}
    assert named["dotward:head"] == entry.data["head"]
    assert named["dotward:count"] == str(entry.data["count"])
    assert verify_job(plain).problems == ()


def test_same_job_same_html(plain):
    report = build_report(plain, load_job(plain))
    assert render_html(report) == render_html(build_report(plain, load_job(plain)))
    assert render_pdf(report)


def side_job(home, tmp_path, found, leads=(1, 4)):
    job = full_job(home, tmp_path)
    photo = make_photo(tmp_path / "side.jpg", 200)
    add_photo(job, photo, stage="side", by="T", leads=leads)

    def look(path, *, stage, **more):
        if stage != "side":
            return CHECKER.look(path, stage=stage, **more)
        seen = SideSeen(photo=shown_photo(), leads=leads or None, view=found)
        return {"format": "dotward.side/1", **side_seen_json(seen), "photo": {}}

    check_job(job, replace(CHECKER, look=look))
    return job


def test_feet_from_the_side_stand_beside_their_limit(home, tmp_path):
    job = side_job(home, tmp_path, view("ok", "ok", "fault", "unsure"))
    page = page_of(job)
    for wanted in (
        "Feet from the side: leads 1 to 4",
        "Foot of lead 3",
        "0.23 ± 0.03\u00a0mm",
        "0.10\u00a0mm",
        "Foot of lead 4: cannot tell",
        "From the side, leads 1 to 4, donor board",
        "a row that stands high as a whole",
    ):
        assert wanted in page.text, wanted
    alts = [attrs["alt"] for attrs in page.all("img")]
    assert any("foot of lead 3 0.23" in alt and "fault" in alt for alt in alts)


def test_feet_are_drawn_on_the_photo_of_the_report(tmp_path):
    path = make_photo(tmp_path / "side.jpg")
    seen = SideSeen(photo=shown_photo(), leads=(1, 4), view=view(*["fault"] * 4))
    answer = side_seen_json(seen)
    answer["px_per_mm"] = 5.0
    for k, foot in enumerate(answer["feet"]):
        foot["at_px"] = [6.0 + 9 * k, 30.0]
    assert photo_jpeg(path, None, answer)[0] != photo_jpeg(path, None)[0]


@pytest.mark.parametrize("leads", [(1, 4), ()])
def test_a_row_that_was_not_read_is_named_as_not_seen(home, tmp_path, leads):
    text = page_of(side_job(home, tmp_path, UNREAD, leads)).text
    row = "leads 1 to 4" if leads else "a row that was not named"
    assert f"Feet of {row}: cannot tell: no row of 4 bright leads" in text


@pytest.mark.parametrize("feet", [None, "x", [None], [{}], [{"at_px": [1, "x"]}]])
def test_strange_feet_are_never_called_right(tmp_path, feet):
    answer = {"format": "dotward.side/1", "feet": feet, "px_per_mm": "x"}
    assert STATE_WORDS["ok"] not in str(feet_rows(answer))
    assert unseen(answer)
    photo_jpeg(make_photo(tmp_path / "side.jpg"), None, answer)
