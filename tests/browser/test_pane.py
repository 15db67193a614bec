"""The picture of the Bench: frames, zoom, fingers, labels."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import PHONE, bench, view_of


def test_before_and_after_lie_in_one_frame(watched, server, turned):
    page = bench(watched, server, turned, stage="after")
    layers = page.locator(".pane-layer")
    expect(layers).to_have_count(2)
    sizes = layers.locator("image:first-child").evaluate_all(
        "nodes => nodes.map(n => [n.getAttribute('width'), n.getAttribute('height')])"
    )
    assert sizes[0] == sizes[1]
    page.get_by_role("button", name="Wipe").click()
    divider = page.get_by_role("slider", name=re.compile("Where before ends"))
    expect(divider).to_have_attribute("aria-valuenow", "50")
    divider.focus()
    page.keyboard.press("ArrowRight")
    expect(divider).to_have_attribute("aria-valuenow", "52")
    box = divider.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] - 150, box["y"] + 60, steps=4)
    page.mouse.up()
    assert int(divider.get_attribute("aria-valuenow")) < 40
    page.get_by_role("button", name="Fade").click()
    page.get_by_label("How much of the after photo").fill("25")
    expect(layers.nth(1)).to_have_css("opacity", "0.25")
    page.get_by_role("button", name="Blink").click()
    said = page.locator(".pane-saying")
    page.get_by_role("button", name="Swap").click()
    expect(said).to_have_text("Shown: before")
    expect(layers.nth(1)).to_have_css("visibility", "hidden")
    page.get_by_role("button", name="Swap").click()
    expect(said).to_have_text("Shown: after")


def test_blinking_runs_only_where_motion_is_wanted(watched, server, turned):
    page = bench(watched, server, turned, stage="after", reduced_motion="no-preference")
    page.get_by_role("button", name="Blink").click()
    second = page.locator(".pane-layer").nth(1)
    expect(second).to_have_css("visibility", "hidden")
    expect(second).to_have_css("visibility", "visible")
    expect(second).to_have_css("visibility", "hidden")


def test_zoom_by_buttons_keys_wheel_and_a_finding(watched, server, looked):
    page = bench(watched, server, looked)
    pane = page.locator(".pane-picture")
    expect(page.locator(".pane-layer image").first).to_be_attached()
    whole = view_of(page)
    page.get_by_role("button", name="True pixels").click()
    assert view_of(page)[2] == pytest.approx(1.0)
    expect(page.locator(".pane-zoom")).to_have_text("1.0 : 1")
    pane.focus()
    page.keyboard.press("0")
    assert view_of(page) == pytest.approx(whole)
    page.keyboard.press("+")
    assert view_of(page)[2] > whole[2]
    page.keyboard.press("ArrowRight")
    pane.hover()
    before = view_of(page)[2]
    page.mouse.wheel(0, -200)
    page.wait_for_function(
        "s => Number(document.querySelector('.pane-layer g').getAttribute('transform')"
        ".match(/scale\\(([\\d.]+)/)[1]) > s",
        arg=before,
    )
    page.get_by_role("button", name="Whole picture").click()
    page.locator(".bench-finding button", has_text="Pin 1").click()
    x, y, scale = view_of(page)
    box = pane.bounding_box()
    at = [(box["width"] / 2 - x) / scale, (box["height"] / 2 - y) / scale]
    assert at == pytest.approx([575.3, 688.0], abs=12)


def test_a_page_is_never_trapped_by_the_picture(watched, server, looked):
    page = bench(watched, server, looked, **PHONE)
    pane = page.locator(".pane-picture")
    expect(pane).to_have_css("touch-action", "pan-y")
    page.get_by_role("button", name="Zoom in").click()
    expect(pane).to_have_css("touch-action", "none")


def test_two_fingers_zoom_and_one_moves(watched, server, looked):
    page = bench(watched, server, looked, **PHONE)
    expect(page.locator(".pane-layer image").first).to_be_attached()
    pane = page.locator(".pane-picture")
    pane.scroll_into_view_if_needed()
    box = pane.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session = page.context.new_cdp_session(page)

    def touch(kind, *places):
        points = [{"x": px, "y": py, "id": n} for n, (px, py) in enumerate(places)]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    whole = view_of(page)
    touch("touchStart", (x - 30, y), (x + 30, y))
    for reach in (40, 60, 80, 90):
        touch("touchMove", (x - reach, y), (x + reach, y))
    touch("touchEnd")
    zoomed = view_of(page)
    assert zoomed[2] == pytest.approx(3 * whole[2], rel=0.1)
    touch("touchStart", (x, y))
    for step in (10, 25, 40):
        touch("touchMove", (x + step, y + step))
    touch("touchEnd")
    moved = view_of(page)
    assert moved[2] == pytest.approx(zoomed[2])
    assert moved[0] - zoomed[0] == pytest.approx(40, abs=12)
    assert moved[1] - zoomed[1] == pytest.approx(40, abs=12)


def test_pin_names_stand_on_the_picture(watched, server, looked):
    page = bench(watched, server, looked)
    texts = page.locator(".pane-picture .mark-text")
    expect(texts.filter(has_text=re.compile(r"^8$"))).to_have_count(1)
    page.get_by_label("Pin names").select_option("25xx")
    expect(page.get_by_text("Where names find no room")).to_be_visible()
    expect(texts.filter(has_text=re.compile(r"^8( VCC)?$"))).to_have_count(1)
    for _ in range(4):
        page.get_by_role("button", name="Zoom in").click()
    expect(texts.filter(has_text="8 VCC")).to_have_count(1)
    page.get_by_label("Pin names").select_option(index=0)
    expect(texts.filter(has_text="VCC")).to_have_count(0)
