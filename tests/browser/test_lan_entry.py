"""A phone comes in from the network: over TLS, with the token, and not without."""

from __future__ import annotations

import hashlib
import re
import socket
import ssl

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import PHONE, SAMPLES, make_job, ready, serving
from tests.browser.test_axe import serious
from ui.page.lan import MAX_WRONG

SECURE = {**PHONE, "ignore_https_errors": True}


@pytest.fixture(scope="module")
def lan(tmp_path_factory):
    home = tmp_path_factory.mktemp("lan")
    with serving(home, "--lan", "--address", "127.0.0.1") as server:
        yield server


@pytest.fixture
def token(lan):
    return next(
        line.removeprefix("Code: ") for line in lan.lines if line.startswith("Code: ")
    )


@pytest.mark.slow
def test_a_phone_scans_the_code_and_sends_a_photo(watched, lan, token):
    job = make_job(lan.home, {}, is_judged=False)
    page = watched.open(f"{lan.address}/enter#{token}", **SECURE)
    page.wait_for_url(f"{lan.address}/")
    assert page.evaluate("window.isSecureContext")
    page.goto(f"{lan.address}/?job={job.name}")
    ready(page)
    page.locator(".bench-you input").fill("Ada")
    page.locator("input[type=file]").first.set_input_files(
        SAMPLES / "patient_before.jpg"
    )
    expect(page.locator(".bench-answer")).to_contain_text("Pin 1: lower left")
    assert token not in page.evaluate(
        "JSON.stringify([location.href, {...localStorage}])"
    )
    (cookie,) = page.context.cookies()
    assert cookie["httpOnly"]
    assert cookie["secure"]
    assert cookie["sameSite"] == "Strict"


def test_the_token_is_not_in_the_history(watched, lan, token):
    page = watched.open(f"{lan.address}/enter#{token}", **SECURE)
    page.wait_for_url(f"{lan.address}/")
    ready(page)
    page.go_back()
    page.wait_for_load_state()
    assert token not in page.url


def test_without_the_token_there_is_only_the_entry(watched, lan):
    watched.allowed += ["401", "403"]
    page = watched.open(f"{lan.address}/enter", **SECURE)
    page.goto(f"{lan.address}/review")
    expect(page.locator("body")).to_contain_text("Scan the code again")
    page.goto(f"{lan.address}/enter")
    page.get_by_label("Code").fill("abcd-efgh-jkmn-pqrs")
    page.get_by_role("button", name="Enter").click()
    expect(page.get_by_role("alert")).to_contain_text("wrong")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_entry_has_no_serious_finding(watched, lan, theme):
    page = watched.open(f"{lan.address}/enter", color_scheme=theme, **SECURE)
    expect(page.get_by_label("Code")).to_be_visible()
    assert serious(page) == []


def test_typing_the_token_opens_too(watched, lan, token):
    page = watched.open(f"{lan.address}/enter", **SECURE)
    page.get_by_label("Code").fill(token.upper().replace("-", " "))
    page.get_by_role("button", name="Enter").click()
    page.wait_for_url(f"{lan.address}/")
    ready(page)


def test_the_fingerprint_printed_is_that_of_the_certificate(lan):
    printed = next(
        m[1]
        for line in lan.lines
        if (m := re.search(r"must be ([0-9A-F:]{95})$", line))
    )
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    with (
        socket.create_connection(("127.0.0.1", lan.port)) as plain,
        context.wrap_socket(plain) as secure,
    ):
        served = secure.getpeercert(binary_form=True)
    assert hashlib.sha256(served).digest().hex(":").upper() == printed


def test_plain_http_gets_nothing(lan):
    with socket.create_connection(("127.0.0.1", lan.port)) as plain:
        plain.sendall(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        plain.settimeout(10)
        try:
            got = plain.recv(100)
        except OSError:
            got = b""
    assert not got.startswith(b"HTTP/1.1 2")


@pytest.mark.slow
def test_a_restart_ends_every_session_and_makes_a_new_token(watched, lan, token):
    watched.allowed += ["401", "net::ERR", "Failed to load"]
    page = watched.open(f"{lan.address}/enter#{token}", **SECURE)
    page.wait_for_url(f"{lan.address}/")
    ready(page)
    lan.kill()
    lan.start()
    assert f"Code: {token}" not in lan.lines
    page.goto(lan.address)
    expect(page.locator("body")).to_contain_text("Scan the code again")


def test_guessing_ends_after_a_few_attempts(watched, lan, token):
    watched.allowed += ["403", "429"]
    page = watched.open(f"{lan.address}/enter", **SECURE)
    for number in range(MAX_WRONG):
        page.get_by_label("Code").fill(f"wrong{number}")
        page.get_by_role("button", name="Enter").click()
        expect(page.get_by_role("alert")).to_contain_text("wrong")
        if page.get_by_role("alert").inner_text().startswith("Too many"):
            break
    page.get_by_label("Code").fill(token)
    page.get_by_role("button", name="Enter").click()
    expect(page.get_by_role("alert")).to_contain_text("Too many wrong codes")
