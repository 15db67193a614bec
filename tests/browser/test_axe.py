"""No serious fault of accessibility, in light and dark, at desk and phone size."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import DESK, PHONE, ready

SERIOUS = {"serious", "critical"}
RULES = {
    "runOnly": {
        "type": "tag",
        "values": [
            "wcag2a",
            "wcag2aa",
            "wcag21a",
            "wcag21aa",
            "wcag22aa",
            "best-practice",
        ],
    }
}


def serious(page):
    """Give the serious findings of axe-core as short texts."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page, options=RULES).response["violations"]
    return [
        f"{rule['id']}: {node['target']} {node['failureSummary']}"
        for rule in found
        if rule["impact"] in SERIOUS
        for node in rule["nodes"]
    ]


@pytest.mark.parametrize(
    ("size", "theme"), [(DESK, "light"), (PHONE, "dark")], ids=["desk", "phone"]
)
def test_the_bench_has_no_serious_finding(watched, server, turned, size, theme):
    settings = {**size, "color_scheme": theme}
    page = ready(watched.open(server.address, **settings))
    assert serious(page) == []
    page.goto(f"{server.address}/?job={turned.name}&stage=after")
    ready(page)
    expect(page.locator(".pane-layer")).to_have_count(2)
    page.get_by_role("button", name="Wipe").click()
    assert serious(page) == []
    page.goto(f"{server.address}/?job={turned.name}&stage=before")
    ready(page)
    page.get_by_role("button", name="Set right by hand").click()
    expect(page.locator(".pane-handle")).to_have_count(4)
    assert serious(page) == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_theme_is_the_one_asked_for(watched, server, theme):
    page = ready(watched.open(server.address, color_scheme=theme))
    dark = page.evaluate(
        "getComputedStyle(document.body).backgroundColor.match(/\\d+/g)[0] < 128"
    )
    assert dark == (theme == "dark")
