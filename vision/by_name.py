"""Takes over which package a person says it is."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from vision.find_packages import aspect_of
from vision.lead_findings import worst_finding
from vision.leads import NEGLIGIBLE, sized_as
from vision.orientation import SURE_FAMILY
from vision.results import Finding, SizeScores
from vision.shared_size import share_size
from vision.tables import MAX_ASPECT_RATIO, rank_variants, variant_named

if TYPE_CHECKING:
    from collections.abc import Sequence

    from vision.packages import Variant
    from vision.results import Package, Registration


def size_both(
    before: Package,
    after: Package,
    registration: Registration,
    named: Sequence[Variant],
) -> tuple[Package, Package, Finding]:
    """Give both packages one size: the one named, or the one that both photos tell.

    Parameters
    ----------
    before, after : Package
        The same place of the board in both photos.
    registration : Registration
        The board, before to after.
    named : sequence of Variant
        What a person says it is; empty where nobody does.

    Returns
    -------
    (Package, Package, Finding)
        ``ok`` but where the name is in doubt; then both are as they were read.
    """
    if not named:
        return (*share_size(before, after, registration), Finding(state="ok"))
    one, before_doubt = name_by_hand(before, named)
    other, after_doubt = name_by_hand(after, named)
    doubt = worst_finding(tuple(dict.fromkeys((before_doubt, after_doubt))))
    if doubt.state != "ok":  # a name that fits one of both is none that fits the pair
        return (*share_size(before, after, registration), doubt)
    return one, other, doubt


def name_by_hand(
    package: Package, variants: Sequence[Variant]
) -> tuple[Package, Finding]:
    """Give a package the size that a person names.

    Parameters
    ----------
    package : Package
        As it was read.
    variants : sequence of Variant
        What the name stands for, such as narrow and wide SOIC-8; one at least.

    Returns
    -------
    (Package, Finding)
        With the size among them whose shape fits best; ``unsure``, and as it was,
        where none does, it was surely read as something else, or something else is
        far likelier.
    """
    name = f"{variants[0].family}-{variants[0].lead_count}"
    aspect = aspect_of(np.asarray(package.outline_px))
    named = {v.name for v in variants}
    ranked = rank_variants(variants[0].family, variants[0].lead_count, aspect)
    variant, misfit = next((v, m) for v, m in ranked if v.name in named)
    if misfit > MAX_ASPECT_RATIO:
        said = (
            f"named {name}, but its body is {aspect:.1f} times as long as wide, as no "
            f"{name} is. Check the name, or take the photo from straight above."
        )
        return package, Finding(state="unsure", reasons=(said,))
    given = replace(
        package,
        family=variant.family,
        family_confidence=1.0,
        lead_count=variant.lead_count,
        size_scores=SizeScores({(variant.family, variant.name): 0.0}),
    )
    doubt = _doubt(package, variants)
    return (sized_as(given, variant) if doubt.state == "ok" else package), doubt


def _doubt(package: Package, variants: Sequence[Variant]) -> Finding:
    """Say so where a person and what was read contradict each other."""
    name = f"{variants[0].family}-{variants[0].lead_count}"
    read = f"{package.family}-{package.lead_count}"
    is_sure = package.variant is not None and package.family_confidence >= SURE_FAMILY
    if is_sure and read == name:
        return Finding(state="ok")
    seen = read if is_sure else _far_likelier(package, variants)
    if not seen:
        return Finding(state="ok")
    said = f"named {name}, but it looks like {seen}. Check the name and the chip."
    return Finding(state="unsure", reasons=(said,))


def _far_likelier(package: Package, variants: Sequence[Variant]) -> str:
    """Name what a photo shows so much likelier than a name that the name cannot be.

    In photos of 262 made pairs whose size was not surely read the true name of a
    package with leads lies 3.4 below the likeliest size at the most.
    """
    scores = package.size_scores.by_size
    if not scores:
        return ""
    likeliest = max(scores, key=scores.__getitem__)
    named = [scores.get((v.family, v.name), -inf) for v in variants]
    size = variant_named(*likeliest)
    if size is None or scores[likeliest] - max(named) <= NEGLIGIBLE:
        return ""
    return f"{size.family}-{size.lead_count}"
