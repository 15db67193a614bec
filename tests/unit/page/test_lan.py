"""Devices on the same network: token, attempts, sessions, certificate, code."""

from __future__ import annotations

import os
import socket
import ssl
import threading

import cv2
import numpy as np
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from fastapi import FastAPI
from starlette.testclient import TestClient

from ui.page import lan
from ui.page.certificate import certificate_for
from ui.page.lan import COOKIE, Door, new_token, open_to_lan

TOKEN = "abcd-efgh-jkmn-pqrs"


class Clock:
    """A clock that is set by hand."""

    def __init__(self):
        self.now_s = 1000.0

    def __call__(self):
        return self.now_s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def door(clock):
    return Door(TOKEN, clock=clock)


@pytest.fixture
def client(door):
    app = FastAPI()
    app.include_router(door.router())
    return TestClient(app, base_url="https://bench.local")


def cookie(secret):
    return f"other=1; {COOKIE}={secret}"


def test_the_token_is_long_and_never_the_same():
    tokens = {new_token() for _ in range(50)}
    assert len(tokens) == 50
    assert all(len(token) == 19 and token.count("-") == 3 for token in tokens)
    assert not set("ilo01") & set("".join(tokens))


@pytest.mark.parametrize(
    "typed", [TOKEN, TOKEN.upper(), "abcdefghjkmnpqrs", " abcd efgh jkmn pqrs"]
)
def test_the_token_may_be_typed_as_people_do(door, typed):
    assert door.is_inside(cookie(door.let_in(typed, "phone")))


@pytest.mark.parametrize(
    "typed", ["", "abcd", TOKEN + "x", TOKEN[:-1], "\ud800", "é" * 99]
)
def test_a_wrong_token_opens_nothing(door, typed):
    assert door.let_in(typed, "phone") is None


@pytest.mark.parametrize(
    "header", ["", "x", f"{COOKIE}=", f"{COOKIE}=wrong", "=;\x01", f'{COOKIE}="']
)
def test_a_wrong_cookie_opens_nothing(door, header):
    door.let_in(TOKEN, "phone")
    assert not door.is_inside(header)


def test_attempts_are_limited_for_each_address(door, clock):
    for _ in range(lan.MAX_WRONG):
        assert not door.must_wait("phone")
        door.let_in("wrong", "phone")
    assert door.must_wait("phone")
    assert not door.must_wait("other phone")
    clock.now_s += lan.WAIT_S + 1
    assert not door.must_wait("phone")


def test_many_addresses_together_cannot_go_on_guessing(door):
    for number in range(lan.MAX_WRONG_IN_ALL):
        door.let_in("wrong", f"phone {number}")
    assert door.must_wait("a phone that never tried")


def test_a_session_ends_when_it_is_not_used(door, clock):
    inside = cookie(door.let_in(TOKEN, "phone"))
    for _ in range(3):
        clock.now_s += lan.IDLE_S - 1
        assert door.is_inside(inside)
    clock.now_s += lan.IDLE_S + 1
    assert not door.is_inside(inside)
    clock.now_s -= lan.IDLE_S
    assert not door.is_inside(inside)


def test_a_session_ends_after_a_working_day(door, clock):
    inside = cookie(door.let_in(TOKEN, "phone"))
    steps = int(lan.SESSION_S // 1800)
    for _ in range(steps):
        clock.now_s += 1800
        assert door.is_inside(inside)
    clock.now_s += 1800
    assert not door.is_inside(inside)


def test_sessions_do_not_pile_up(door):
    first = cookie(door.let_in(TOKEN, "phone"))
    for _ in range(lan.MAX_SESSIONS):
        door.let_in(TOKEN, "phone")
    assert not door.is_inside(first)


def test_entering_over_http(client):
    assert client.get("/enter").status_code == 200
    assert client.post("/enter", json={"token": "wrong"}).status_code == 403
    answer = client.post("/enter", json={"token": TOKEN})
    assert answer.status_code == 200
    said = answer.headers["set-cookie"].lower()
    for word in ("httponly", "secure", "samesite=strict", "path=/"):
        assert word in said
    assert "domain" not in said


def test_too_many_wrong_tokens_shut_out_even_the_right_one(client):
    for _ in range(lan.MAX_WRONG):
        client.post("/enter", json={"token": "wrong"})
    answer = client.post("/enter", json={"token": TOKEN})
    assert answer.status_code == 429
    assert "Wait five minutes" in answer.json()["message"]


def test_leaving_ends_the_session(client, door):
    client.post("/enter", json={"token": TOKEN})
    header = f"{COOKIE}={client.cookies[COOKIE]}"
    assert door.is_inside(header)
    client.post("/leave")
    assert not door.is_inside(header)


def test_the_certificate_names_every_address_and_is_kept(tmp_path):
    names = ("192.0.2.7", "bench.local", "localhost", "127.0.0.1")
    path, key, fingerprint = certificate_for(names, tmp_path)
    found = x509.load_pem_x509_certificate(path.read_bytes())
    listed = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert set(listed.get_values_for_type(x509.DNSName)) == {"bench.local", "localhost"}
    assert [str(a) for a in listed.get_values_for_type(x509.IPAddress)] == [
        "192.0.2.7",
        "127.0.0.1",
    ]
    assert certificate_for(names[:2], tmp_path)[2] == fingerprint
    assert certificate_for((*names, "192.0.2.8"), tmp_path)[2] != fingerprint
    if os.name != "nt":
        assert key.stat().st_mode & 0o077 == 0


def test_a_broken_certificate_is_made_anew(tmp_path):
    path, _, old = certificate_for(("localhost",), tmp_path)
    path.write_text("not a certificate")
    assert certificate_for(("localhost",), tmp_path)[2] != old


def test_what_is_printed_is_what_is_served(tmp_path):
    _, hosts, tls, lines = open_to_lan("127.0.0.1", 7717, tmp_path)
    assert "127.0.0.1:7717" in hosts
    assert not any(host.startswith("0.0.0.0") for host in hosts)
    told = "\n".join(lines)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(tls["ssl_certfile"], tls["ssl_keyfile"])
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]

        def serve():
            plain, _ = server.accept()
            with plain, context.wrap_socket(plain, server_side=True) as secure:
                secure.recv(1)

        thread = threading.Thread(target=serve)
        thread.start()
        pem = ssl.get_server_certificate(("127.0.0.1", port))
        thread.join()
    found = x509.load_pem_x509_certificate(pem.encode())
    assert found.fingerprint(hashes.SHA256()).hex(":").upper() in told


def test_the_code_that_is_drawn_can_be_read_and_holds_address_and_token(tmp_path):
    _, _, _, lines = open_to_lan("127.0.0.1", 7717, tmp_path)
    (token,) = [li.removeprefix("Code: ") for li in lines if li.startswith("Code: ")]
    drawn = [line for line in lines if line and set(line) <= set("█▀▄ ")]
    light = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    rows = []
    for line in drawn:
        rows.append([light[char][0] for char in line])
        rows.append([light[char][1] for char in line])
    picture = np.kron(np.array(rows, np.uint8) * 255, np.ones((8, 8), np.uint8))
    picture = cv2.copyMakeBorder(
        picture, 32, 32, 32, 32, cv2.BORDER_CONSTANT, value=255
    )
    read, *_ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert read == f"https://127.0.0.1:7717/enter#{token}"
