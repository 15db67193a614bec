"""The tables of a report: each value judged by itself, and never better than said."""

from __future__ import annotations

import pytest

from ui.report.figures import package_of
from ui.report.measures import measured_rows, reasons_of, unseen
from ui.words import STATE_WORDS


@pytest.mark.parametrize(
    "answer",
    [
        {},
        {"alignment": None, "overhang": 3, "bridges": [None], "joints": {"a": 1}},
        {"alignment": {"dx_mm": "x", "u_mm": []}, "orientation": []},
        {"overhang": [{"side_overhang_frac": None}], "packages": [[]]},
        {"checks": {"a": None, "b": {"state": "unsure", "reasons": "no"}}},
    ],
)
def test_strange_answers_are_never_called_right(answer):
    for row in measured_rows(answer):
        assert row[-1] == "cannot tell"
    unseen(answer)
    package_of(answer, "after")


@pytest.mark.parametrize(
    ("confidence", "shown"),
    [(0.99997, "over 0.999"), (1.0, "over 0.999"), (0.999, "0.999"), (0.9804, "0.980")],
)
def test_a_confidence_is_never_shown_as_certainty(confidence, shown):
    turn = {"state": "ok", "turn_deg": 0, "confidence": confidence}
    (row, *_) = measured_rows({"orientation": turn})
    assert row[1] == f"turned by 0° (confidence {shown})"


def test_value_without_spread_says_so():
    rows = measured_rows({"alignment": {"state": "ok", "dx_mm": 0.1}})
    assert rows[1][1] == "0.10 ± unknown\u00a0mm"


LIMITS = {"limit_mm": 0.3, "limit_deg": 5.8}
SHIFTED = {"state": "fault", "dx_mm": 0.3, "dy_mm": -0.25, "u_mm": 0.05}
SHIFTED |= {"skew_deg": -1.1, "u_deg": 0.3, **LIMITS}


def judged(**alignment):
    rows = measured_rows({"alignment": alignment})[1:]
    return {what: (value, limit, said) for what, value, limit, said in rows}


def test_shift_and_skew_are_judged_each_by_its_own_value():
    rows = judged(**SHIFTED)
    assert rows["Shift, its length"] == (
        "0.39 ± 0.05\u00a0mm",
        "0.30\u00a0mm",
        "fault",
    )
    assert rows["Skewed"] == ("\u22121.1 ± 0.3°", "5.8°", "looks right")
    for name in ("Moved along x", "Moved along y"):
        assert rows[name][1:] == ("none of its own", "counts in the shift")


@pytest.mark.parametrize(
    ("changes", "shift", "skew"),
    [
        ({"dx_mm": 0.05, "dy_mm": 0.0, "state": "ok"}, "ok", "ok"),
        ({"dx_mm": 0.28, "dy_mm": 0.0, "state": "unsure"}, "unsure", "ok"),
        # Neither is near its limit, so the tool doubted something of the shift.
        ({"dx_mm": 0.05, "dy_mm": 0.0, "state": "unsure"}, "unsure", "ok"),
        ({"dx_mm": 0.05, "dy_mm": 0.0, "skew_deg": 7.0}, "ok", "fault"),
        ({"u_mm": None}, "fault", "ok"),
        ({"u_deg": None}, "fault", "unsure"),
        ({"u_deg": float("nan")}, "fault", "unsure"),
        # Answers of old hold no limits: nobody knows which of the two it was.
        ({"limit_mm": None, "limit_deg": None}, "unsure", "unsure"),
        ({"limit_mm": None, "limit_deg": None, "state": "ok"}, "ok", "ok"),
    ],
)
def test_a_value_is_no_fault_for_the_sake_of_another(changes, shift, skew):
    rows = judged(**SHIFTED | changes)
    assert rows["Shift, its length"][-1] == STATE_WORDS[shift]
    assert rows["Skewed"][-1] == STATE_WORDS[skew]


REASONS = [
    "shift of the chip: measured 0.387 ± 0.049 mm, shop limit 0.300 mm",
    "skew of the chip: measured 1.10 ± 0.29°, shop limit 5.77°",
    "solder joins leads 2 and 3",
]


@pytest.mark.parametrize(
    ("changes", "decision", "kept"),
    [
        ({}, "stop", (0, 2)),
        ({"skew_deg": 5.7}, "stop", (0, 2)),
        ({"state": "unsure", "dx_mm": 0.29, "dy_mm": 0}, "check-by-hand", (0, 2)),
        ({"state": "ok", "dx_mm": 0.0, "dy_mm": 0}, "no-fault-seen", (0, 1, 2)),
        ({"limit_mm": None, "limit_deg": None}, "stop", (0, 1, 2)),
    ],
)
def test_what_is_within_its_limit_is_no_reason_to_stop(changes, decision, kept):
    answer = {"decision": decision, "reasons": REASONS, "alignment": SHIFTED | changes}
    assert reasons_of(answer) == tuple(REASONS[k] for k in kept)


def test_leads_of_which_the_same_is_said_stand_together_with_the_reason():
    hidden = {"state": "unsure", "findings": ["buried under solder"]}
    near = {"state": "unsure", "side_overhang_frac": 0.4, "u_frac": 0.2}
    near["limit_frac"] = 0.5
    answer = {
        "joints": [
            *({"lead": k, **hidden} for k in (1, 2, 3, 5)),
            {"lead": 4, "state": "ok", "findings": []},
            {"lead": 6, "state": "unsure", "findings": []},
        ],
        "overhang": [
            *({"lead": k, **near} for k in range(1, 9)),
            {"lead": 9, **near, "side_overhang_frac": 0.1},
            {"lead": 10, **near, "side_overhang_frac": 0.9},
            {"lead": 11, "state": "unsure"},
        ],
    }
    assert unseen(answer) == (
        "Leads 1 to 3, 5: cannot tell: buried under solder",
        "Lead 6: cannot tell: no reason recorded",
        "Leads 1 to 8, side overhang: cannot tell: too near the shop limit of "
        "50\u00a0% of the lead's width to tell",
        "Lead 9, side overhang: cannot tell: not made out in the photo, only placed by "
        "the other leads",
        "Lead 10, side overhang: cannot tell: beyond 50\u00a0%, a limit from memory "
        "that only warns",
        "Lead 11, side overhang: cannot tell: no reason recorded",
    )


def test_a_strange_lead_is_still_named():
    joints = [{"lead": lead, "state": "unsure"} for lead in ("x\u202e", 3)]
    assert unseen({"joints": joints}) == (
        "Leads x[U+202E], 3: cannot tell: no reason recorded",
    )
