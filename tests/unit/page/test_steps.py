"""Where a job stands, what comes next, and which cautions apply."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.record.helpers import fake_checker, make_photo
from ui.page.steps import (
    DO_NOT_POWER,
    answer_about,
    cautions_now,
    next_step,
    photo_of,
    stages_of,
)
from ui.record import (
    Decided,
    Opened,
    add_event,
    add_photo,
    check_job,
    load_job,
    new_job_name,
    open_job,
    seal_job,
)


@pytest.fixture
def job(tmp_path):
    opening = Opened(job=new_job_name(), technician="T", part="24xx", patient="logger")
    return open_job(tmp_path / "jobs", opening)


def put(job, tmp_path, stage, shade=10):
    photo = make_photo(tmp_path / f"{stage}-{shade}.jpg", shade)
    return add_photo(job, photo, stage=stage, by="T").seq


def test_the_donor_has_a_stage_only_where_there_is_one(job, tmp_path):
    assert [p.role for p in stages_of(load_job(job))] == ["patient"] * 4
    opening = Opened(
        job=new_job_name(), technician="T", part="p", patient="b", donor="spare"
    )
    other = load_job(open_job(tmp_path / "jobs", opening))
    assert [(p.stage, p.role) for p in stages_of(other)] == [
        ("before", "patient"),
        ("before", "donor"),
        ("lands", "donor"),
        ("after", "donor"),
        ("side", "donor"),
    ]


def test_a_donor_that_is_only_shown_has_its_stages_too(job, tmp_path):
    put(job, tmp_path, "before", 10)
    photo = make_photo(tmp_path / "after.jpg", 60)
    seq = add_photo(job, photo, stage="after", role="donor", by="T").seq
    state = load_job(job)
    places = stages_of(state)
    assert ("after", "donor") in [(p.stage, p.role) for p in places]
    after = next(p for p in places if p.stage == "after")
    assert state.photo(after.stage, after.role).seq == seq
    assert (
        add_photo(
            job, make_photo(tmp_path / "lands.jpg", 90), stage="lands", by="T"
        ).data["role"]
        == "donor"
    )


def test_the_steps_follow_the_work(job, tmp_path):
    assert "before you lift it" in next_step(load_job(job))
    put(job, tmp_path, "before", 10)
    assert "Do not lift yet: wait" in next_step(load_job(job))
    check_job(job, looking(**CHIP))
    assert "lands cleaned" in next_step(load_job(job))
    put(job, tmp_path, "lands", 50)
    assert "same place again as before" in next_step(load_job(job))
    put(job, tmp_path, "after", 90)
    assert "press Judge" in next_step(load_job(job))


def test_nobody_is_sent_back_for_lands_that_are_covered(job, tmp_path):
    put(job, tmp_path, "before", 10)
    put(job, tmp_path, "after", 90)
    assert "lands" not in next_step(load_job(job))


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        ("stop", "Do not power the board"),
        ("retake", "Take the photo again"),
        ("check-by-hand", "under magnification"),
        ("no-fault-seen", "second person"),
    ],
)
def test_each_answer_has_its_next_step(job, tmp_path, decision, words):
    put(job, tmp_path, "before", 10)
    put(job, tmp_path, "after", 90)
    check_job(job, fake_checker(decision))
    assert words in next_step(load_job(job))


def test_after_the_decision_the_job_is_finished(job, tmp_path):
    put(job, tmp_path, "before", 10)
    event = Decided(decision="stop", by="T", tool_decision="check-by-hand")
    add_event(job, event)
    assert next_step(load_job(job)).startswith(f"{DO_NOT_POWER} Finish the job")
    seal_job(job, by="T", make_reports=lambda *_: {})
    assert "sealed" in next_step(load_job(job))


def looking(**fields):
    """Answer every photo from above with these fields, or those of its stage."""
    checker = fake_checker()

    def look(path, *, stage, **more):
        about = fields.get(stage, fields)
        return {**checker.look(path, stage=stage, **more), **about}

    return replace(checker, look=look)


CHIP = {"packages": [{"family": "SOIC", "lead_count": 8}]}
BLURRED = {"state": "fault", "reasons": ["edges are blurred over 16.7 px. Retake."]}
DOUBT = {"state": "unsure", "reasons": ["any of 3 packages may be the one meant."]}


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (
            {**CHIP, "quality": BLURRED},
            "again: edges are blurred over 16.7 px. Retake.",
        ),
        ({}, "again, or outline the chip by hand: no chip was found in it."),
        (
            {**CHIP, "meant": DOUBT},
            "again, or outline the chip by hand: which chip is meant is not known: any "
            "of 3 packages may be the one meant.",
        ),
        ({"error": {"message": "cut"}}, "again: the tool could not use it."),
    ],
)
def test_no_chip_is_lifted_on_a_photo_that_is_of_no_use(job, tmp_path, fields, words):
    put(job, tmp_path, "before", 10)
    check_job(job, looking(**fields))
    assert next_step(load_job(job)) == f"Do not lift yet: take this photo {words}"


@pytest.mark.parametrize("odd", [None, "fault", {"state": "ok", "reasons": 3}, {}])
def test_a_photo_that_serves_leads_on_to_the_lands(job, tmp_path, odd):
    put(job, tmp_path, "before", 10)
    check_job(job, looking(**CHIP, quality=odd, meant=odd))
    assert "lands cleaned" in next_step(load_job(job))


@pytest.fixture
def moved(tmp_path):
    """Give a job whose chip goes to another board."""
    opening = Opened(
        job=new_job_name(), technician="T", part="p", patient="b", donor="spare"
    )
    return open_job(tmp_path / "jobs", opening)


def test_the_empty_place_of_a_donor_needs_no_chip_but_a_sharp_photo(moved, tmp_path):
    put(moved, tmp_path, "before", 10)
    photo = make_photo(tmp_path / "donor.jpg", 60)
    add_photo(moved, photo, stage="before", role="donor", by="T")
    seen = iter([CHIP, {"quality": BLURRED}, {}, {}])
    checker = fake_checker()

    def look(path, **more):
        return {**checker.look(path, **more), **next(seen)}

    check_job(moved, replace(checker, look=look))
    assert next_step(load_job(moved)).startswith(
        "Take the photo “Donor as it was” again"
    )
    sharp = make_photo(tmp_path / "sharp.jpg", 70)
    add_photo(moved, sharp, stage="before", role="donor", by="T", replaces=3)
    check_job(moved, replace(checker, look=look))
    assert "lands cleaned" in next_step(load_job(moved))


def test_what_is_soldered_on_cannot_be_photographed_before(moved, tmp_path):
    put(moved, tmp_path, "before", 10)
    put(moved, tmp_path, "after", 90)
    assert next_step(load_job(moved)).startswith("Wait for the answer")
    check_job(moved, looking(**CHIP))
    said = next_step(load_job(moved))
    assert said.startswith("Let a second person look.")
    assert "“Donor as it was” was not taken, and cannot be made up for." in said


def test_without_any_photo_before_nothing_is_compared(job, tmp_path):
    put(job, tmp_path, "after", 90)
    check_job(job, looking(**CHIP))
    said = next_step(load_job(job))
    assert said.startswith(f"{DO_NOT_POWER} Nothing can be compared")
    assert "“Before lifting” was not taken, and cannot be made up for." in said


def test_once_the_chip_is_off_it_is_not_asked_for_where_it_sat(job, tmp_path):
    put(job, tmp_path, "lands", 50)
    said = next_step(load_job(job))
    assert said.startswith("After soldering and cleaning")
    assert "“Before lifting” was not taken" in said


def test_a_blurred_photo_before_is_not_asked_for_again_after_soldering(job, tmp_path):
    put(job, tmp_path, "before", 10)
    put(job, tmp_path, "after", 90)
    blurred = {**CHIP, "quality": BLURRED}
    check_job(job, replace(fake_checker("retake"), look=looking(**blurred).look))
    said = next_step(load_job(job))
    assert said.startswith(f"{DO_NOT_POWER} Nothing can be compared")
    assert "“Before lifting” cannot be made up for, but is of no use: edges" in said
    assert "Take" not in said


def side_faults(pair_faults=("side",), decision="stop"):
    """Answer rows with a foot too high, and a pair with these faults."""
    checker = looking(before=CHIP, after=CHIP, side={"state": "fault"})
    checks = {name: {"state": "fault", "reasons": []} for name in pair_faults}

    def compare(before, after, *, side, **more):
        answer = fake_checker(decision).compare(before, after, **more)
        rows = [{"photo": {}, "leads": list(leads) or None} for _, leads in side]
        return {**answer, "checks": checks, "side": rows}

    return replace(checker, compare=compare)


def put_row(job, tmp_path, shade, **more):
    photo = make_photo(tmp_path / f"side-{shade}.jpg", shade)
    return add_photo(job, photo, stage="side", by="T", leads=(1, 4), **more).seq


def test_after_rework_the_row_that_showed_the_fault_is_asked_for_anew(job, tmp_path):
    put(job, tmp_path, "before", 10)
    after = put(job, tmp_path, "after", 90)
    row = put_row(job, tmp_path, 150)
    check_job(job, side_faults())
    assert "mend what the findings name" in next_step(load_job(job))
    again = make_photo(tmp_path / "again.jpg", 120)
    add_photo(job, again, stage="after", by="T", replaces=after)
    check_job(job, side_faults())
    said = next_step(load_job(job))
    assert said.startswith("Photograph leads 1 to 4 from the side anew: ")
    assert "older than the photo after reflow" in said
    assert said.endswith(DO_NOT_POWER)
    put_row(job, tmp_path, 200, replaces=row)
    check_job(job, side_faults())
    assert "mend what the findings name" in next_step(load_job(job))


def test_another_fault_comes_before_an_old_row(job, tmp_path):
    put(job, tmp_path, "before", 10)
    put_row(job, tmp_path, 150)
    put(job, tmp_path, "after", 90)
    check_job(job, side_faults(("side", "bridges")))
    assert next_step(load_job(job)).startswith(f"{DO_NOT_POWER} Have a second")


def titles(job):
    return " ".join(caution.title for caution in cautions_now(load_job(job)))


def test_cautions_come_when_they_apply(job, tmp_path):
    assert "Back the memory up" in titles(job)
    assert "Burns" not in titles(job)
    put(job, tmp_path, "before", 10)
    assert "Burns" in titles(job)
    put(job, tmp_path, "after", 90)
    assert "No power before inspection" in titles(job)
    assert "Back the memory up" not in titles(job)
    assert "First power" not in titles(job)
    check_job(job, fake_checker("stop"))
    assert "Burns" in titles(job)
    assert "First power" not in titles(job)
    assert "Static electricity" in titles(job)


def test_the_newest_answer_about_a_photo_counts(job, tmp_path):
    first = put(job, tmp_path, "before", 10)
    assert answer_about(load_job(job), first) is None
    check_job(job, fake_checker())
    state = load_job(job)
    assert answer_about(state, first) == state.answers[-1]


def chip_checker(*, meant=None, **chip):
    """Answer as if every photo showed the same chip."""
    return looking(packages=[chip], meant=meant or {"state": "ok"})


def side_titles(job):
    return [p.title for p in stages_of(load_job(job)) if p.stage == "side"]


def test_each_row_of_a_known_chip_has_its_place_from_the_side(job, tmp_path):
    assert side_titles(job) == ["From the side"]
    put(job, tmp_path, "before", 10)
    check_job(job, chip_checker(family="SOIC", lead_count=8))
    assert side_titles(job) == ["Side, leads 1 to 4", "Side, leads 5 to 8"]
    put(job, tmp_path, "side", 30)
    assert side_titles(job)[-1] == "From the side"


def test_rows_of_a_chip_that_may_not_be_the_one_meant_have_no_place(job, tmp_path):
    put(job, tmp_path, "before", 10)
    check_job(job, chip_checker(family="SOIC", lead_count=8, meant=DOUBT))
    assert side_titles(job) == ["From the side"]


@pytest.mark.parametrize(
    ("family", "count"), [("QFP", 256), ("SON", 8), ("other", None), ("SOIC", None)]
)
def test_rows_that_cannot_be_judged_have_no_place_of_their_own(
    job, tmp_path, family, count
):
    put(job, tmp_path, "before", 10)
    check_job(job, chip_checker(family=family, lead_count=count))
    assert side_titles(job) == ["From the side"]


def test_a_row_has_its_own_photo(job, tmp_path):
    for shade, leads in ((10, (1, 4)), (50, (5, 8))):
        photo = make_photo(tmp_path / f"{shade}.jpg", shade)
        add_photo(job, photo, stage="side", by="T", leads=leads)
    state = load_job(job)
    shown = {p.leads: photo_of(state, p).seq for p in stages_of(state) if p.leads}
    assert shown == {(1, 4): 2, (5, 8): 3}
