"""Agreement figures as sentences; page and command line say the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ui.review.agreement import Agreement, PairAgreement

NOT_BLIND = (
    "Reviewers see what tool and technician said before they judge: this is no blind "
    "comparison. What the tool says includes corrections by hand; of a board that was "
    "let go without a comparison it says check by hand."
)
FEW = "With so few jobs the interval of kappa is only rough."
# Below this many jobs a large-sample interval is called rough (rule of thumb, memory).
FEW_JOBS = 30


def pair_lines(pair: PairAgreement) -> tuple[str, ...]:
    """Say how far two raters agree.

    Parameters
    ----------
    pair : PairAgreement
        Their figures.

    Returns
    -------
    tuple of str
        One to three sentences; what is not defined is said so.
    """
    jobs = f"{pair.job_count} job{'' if pair.job_count == 1 else 's'}"
    if (
        pair.agreed_frac is None
        or pair.agreed_low_frac is None
        or pair.agreed_high_frac is None
    ):
        return ("No job yet on which both have spoken.",)
    share = (
        f"Same word on {pair.agreed_count} of {jobs}: {100 * pair.agreed_frac:.0f} % "
        f"(95 % interval {100 * pair.agreed_low_frac:.0f} to "
        f"{100 * pair.agreed_high_frac:.0f} %)."
    )
    lines = [share, _kappa_words(pair)]
    if pair.kappa_low is not None and pair.job_count < FEW_JOBS:
        lines.append(FEW)
    return tuple(lines)


def outcome_lines(found: Agreement, words: dict[str, str]) -> tuple[str, ...]:
    """Say what became of the boards after power-on.

    Parameters
    ----------
    found : Agreement
        All figures.
    words : dict of str
        The word for each decision.

    Returns
    -------
    tuple of str
        One sentence a rater and decision.
    """
    return tuple(
        f"The {row.rater} said {words[row.decision].lower()}: {row.worked} worked, "
        f"{row.failed} did not."
        for row in found.outcomes
    )


def damaged_lines(found: Agreement) -> tuple[str, ...]:
    """Say how many damaged jobs are left out of the figures.

    Parameters
    ----------
    found : Agreement
        All figures.

    Returns
    -------
    tuple of str
        One sentence, or nothing where no job is damaged.
    """
    count = found.damaged_count
    if not count:
        return ()
    jobs = "1 damaged job is" if count == 1 else f"{count} damaged jobs are"
    return (
        f"{jobs} left out: nobody can tell what was decided there. See `dotward job "
        "list` and `dotward job verify`.",
    )


def _kappa_words(pair: PairAgreement) -> str:
    if pair.kappa is None:
        return "Kappa is not defined: both always said the same one thing."
    if pair.kappa_low is None or pair.kappa_high is None:
        return (
            f"Kappa {pair.kappa:.2f}; no interval, as these jobs show no spread to "
            "tell it by."
        )
    return (
        f"Kappa {pair.kappa:.2f} (95 % interval {pair.kappa_low:.2f} to "
        f"{pair.kappa_high:.2f}): agreement beyond what chance would give."
    )
