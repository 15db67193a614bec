"""Names of packages as people say them."""

from __future__ import annotations

import pytest

from vision.package_names import no_such_package, package_names, packages_named
from vision.tables import variants_of


def test_a_package_is_named_by_family_and_leads_or_in_full() -> None:
    narrow, *wide = variants_of("SOIC", 8)
    assert packages_named("soic-8") == (narrow, *wide)
    assert packages_named(f" {narrow.name} ") == (narrow,)
    assert "nearest: SOIC-8, " in packages_named("SOIC-9").reason


def test_every_name_of_the_list_stands_for_sizes_of_its_family() -> None:
    names = package_names()
    assert len(set(names)) == len(names) > 80
    for name in names:
        assert {f"{v.family}-{v.lead_count}" for v in packages_named(name)} == {name}


@pytest.mark.parametrize(
    ("typed", "nearest"),
    [
        ("SOIC8", "SOIC-8"),
        ("lqfp-44", "QFP-44"),
        ("SOT 23-5", "SOT-5"),
        ("SOIC-8 3.9x4.9 P1", "SOIC-8 3.9x4.9 P1.27"),
    ],
)
def test_an_unknown_name_is_answered_with_the_nearest(typed: str, nearest: str) -> None:
    assert packages_named(typed).reason == no_such_package(typed)
    assert f"{typed}: not in the tables; nearest: {nearest}, " in no_such_package(typed)


def test_a_name_like_none_is_answered_with_all() -> None:
    assert "not in the tables; known: DIP-6, " in no_such_package("transistor?")
