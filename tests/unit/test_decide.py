from __future__ import annotations

import itertools

import pytest

from vision.decide import CHECKS, complete, decide, worst_of
from vision.results import Alignment, Finding, NotFound, Orientation, PairReport

OK = {name: Finding(state="ok", reasons=(f"{name} fine",)) for name in CHECKS}


def test_no_fault_is_seen_only_when_every_check_is_ok() -> None:
    decision, reasons = decide(OK)
    assert decision == "no-fault-seen"
    assert len(reasons) == len(CHECKS)


@pytest.mark.parametrize("missing", CHECKS)
def test_a_check_nobody_made_is_never_passed(missing: str) -> None:
    checks = {n: f for n, f in OK.items() if n != missing}
    decision, reasons = decide(checks)
    assert decision in ("check-by-hand", "retake")
    assert any("not judged by this version" in r for r in reasons)


def test_checks_of_photos_that_do_not_match_say_so() -> None:
    lost = Finding(state="unsure", reasons=("too few places agree",))
    every = complete({"registration": lost})
    assert every["registration"] is lost
    assert "could not be laid over each other" in every["joints"].reasons[0]
    assert decide({"registration": lost})[0] == "retake"


@pytest.mark.parametrize(
    "faulty", [c for c in CHECKS if c not in ("quality", "registration")]
)
def test_one_fault_stops_whatever_else_was_seen(faulty: str) -> None:
    checks = dict.fromkeys(CHECKS, Finding(state="unsure", reasons=("dim",)))
    checks[faulty] = Finding(state="fault", reasons=("turned",))
    assert decide(checks) == ("stop", ("turned",))


def test_a_bad_photo_or_registration_asks_for_another_photo() -> None:
    blurred = OK | {"quality": Finding(state="fault", reasons=("blurred",))}
    lost = OK | {"registration": Finding(state="unsure", reasons=("too few",))}
    assert decide(blurred) == ("retake", ("blurred",))
    assert decide(lost) == ("retake", ("too few",))


def test_the_worst_of_any_two_states_wins() -> None:
    order = {"no-fault-seen": 0, "check-by-hand": 1, "retake": 2, "stop": 3}
    states = ("ok", "unsure", "fault")
    for first, second in itertools.product(states, states):
        checks = OK | {"joints": Finding(state=first), "bridges": Finding(state=second)}
        alone = [
            decide(OK | {"joints": Finding(state=first)})[0],
            decide(OK | {"bridges": Finding(state=second)})[0],
        ]
        assert decide(checks)[0] == max(alone, key=order.__getitem__)


def test_an_extra_check_counts_too() -> None:
    extra = OK | {"coating": Finding(state="unsure", reasons=("hidden",))}
    assert decide(extra) == ("check-by-hand", ("hidden",))
    assert list(complete(extra))[: len(CHECKS)] == list(CHECKS)


def judged(decision) -> PairReport:
    nothing = NotFound(reason="")
    return PairReport(
        before=None, after=None, before_package=None, after_package=None,
        registration=nothing,
        orientation=Orientation(state="ok", turn_deg=0, confidence=1.0),
        alignment=Alignment(state="ok"),
        checks=OK,
        decision=decision,
        reasons=(decision,),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("decisions", "worst"),
    [
        (("no-fault-seen", "check-by-hand"), 1),
        (("check-by-hand", "stop", "retake"), 1),
        (("retake", "check-by-hand"), 0),
        (("no-fault-seen", "no-fault-seen"), 0),
    ],
)
def test_of_packages_that_may_be_meant_the_worst_counts(decisions, worst) -> None:
    report = worst_of([judged(d) for d in decisions])
    assert report.decision == decisions[worst]
    assert report.reasons[0] == decisions[worst]
    assert "Point at" in report.reasons[-1]
    assert "Point at" in report.checks["package"].reasons[-1]


def test_one_package_alone_is_left_as_it_is() -> None:
    alone = judged("no-fault-seen")
    assert worst_of([alone]) is alone
