"""Names of packages as people say them."""

from __future__ import annotations

from vision.package_names import package_names, packages_named
from vision.tables import variants_of


def test_a_package_is_named_by_family_and_leads_or_in_full() -> None:
    narrow, *wide = variants_of("SOIC", 8)
    assert packages_named("soic-8") == (narrow, *wide)
    assert packages_named(f" {narrow.name} ") == (narrow,)
    assert "known: " in packages_named("SOIC-9").reason


def test_every_name_of_the_list_stands_for_sizes_of_its_family() -> None:
    names = package_names()
    assert len(set(names)) == len(names) > 80
    for name in names:
        assert {f"{v.family}-{v.lead_count}" for v in packages_named(name)} == {name}
