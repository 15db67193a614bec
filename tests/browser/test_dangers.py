"""What the page's frame does by default and must not: each cure at the real server."""

from __future__ import annotations

import json
import re
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import expect

from tests.browser.conftest import ROOT, Server, ready

HOSTILE = {
    "GRADIO_SHARE": "True",
    "GRADIO_SERVER_NAME": "0.0.0.0",
    "GRADIO_ALLOWED_PATHS": "/",
    "GRADIO_ROOT_PATH": "https://evil.example",
    "GRADIO_VIBE_MODE": "True",
    "GRADIO_MCP_SERVER": "True",
    "GRADIO_SSR_MODE": "True",
    "GRADIO_ANALYTICS_ENABLED": "True",
    "GRADIO_RUN_HISTORY": "True",
    "HF_HUB_OFFLINE": "0",
}


@pytest.fixture
def client(server):
    with httpx.Client(base_url=server.address, timeout=30) as client:
        yield client


def test_no_run_is_kept_in_the_browser(watched, server):
    page = ready(watched.open(server.address))
    for field in ("by", "part", "patient"):
        box = page.locator(f"#dw-new-{field} textarea, #dw-new-{field} input")
        box.fill("Customer secret")
    page.locator("#dw-open").click()
    page.wait_for_url(re.compile(r"\?job="))
    ready(page)
    kept = page.evaluate("Object.keys(localStorage)")
    assert not [key for key in kept if "run-history" in key]
    assert set(kept) <= {"dotward.by"}


def test_a_name_that_is_not_its_own_is_misdirected(client, server):
    for host in ("evil.example", f"evil.example:{server.port}"):
        assert client.get("/healthz", headers={"host": host}).status_code == 421


def test_another_website_can_send_nothing(client, server, home):
    before = {path for path in home.rglob("*") if path.is_file()}
    files = {"files": ("x.jpg", b"\xff\xd8\xff" * 99)}
    foreign = {"origin": "https://evil.example", "sec-fetch-site": "cross-site"}
    for path in ("/gradio_api/upload", "/api/job/20260131-k7q2mx/photo?stage=before"):
        assert client.post(path, files=files, headers=foreign).status_code in (403, 404)
    assert client.post("/gradio_api/upload", files=files).status_code == 404
    assert {path for path in home.rglob("*") if path.is_file()} == before


def test_no_answer_permits_another_origin(client):
    for path in ("/", "/healthz", "/theme.css"):
        answer = client.get(path, headers={"origin": str(client.base_url).rstrip("/")})
        assert answer.status_code == 200
        assert not [k for k in answer.headers if k.startswith("access-control")]
    assert (
        client.get("/", headers={"origin": "https://evil.example"}).status_code == 403
    )


@pytest.mark.parametrize(
    "path",
    [
        "/config",
        "/monitoring",
        "/gradio_api/info",
        "/gradio_api/app_id",
        "/gradio_api/runs",
        "/gradio_api/file=/etc/passwd",
        "/gradio_api/file=pyproject.toml",
        "/gradio_api/proxy=https://example.com/",
        "/gradio_api/call/open_it",
        "/%67radio_api/upload",
        "/static/%2e%2e/%2e%2e/pyproject.toml",
        "/own/%2e%2e%2fapp.py",
        "/own/app.py",
        "/job/..%2f..%2fetc/report",
        "/docs",
        "/openapi.json",
        "/login",
    ],
)
def test_what_the_frame_offers_beside_the_page_is_closed(client, path):
    assert client.get(path).status_code in (404, 405, 409)
    assert client.post(path).status_code in (403, 404, 405, 409)


@pytest.mark.parametrize(
    "data",
    [
        [{"path": "/etc/passwd", "meta": {"_type": "gradio.FileData"}}] * 5,
        [["a"], {"b": 1}, None, 7, True],
        ["x" * 100_000] * 5,
        ["<script>", "${alert(1)}", "\u0000", "=1+1", "{{value}}"],
        [],
        None,
    ],
)
def test_every_input_of_a_handler_is_held_to_be_hostile(client, home, data):
    jobs = len(list(home.glob("2*")))
    said = call(client, data)
    assert "root:" not in said
    assert "Traceback" not in said
    assert len(list(home.glob("2*"))) <= jobs + 1
    assert client.get("/healthz").status_code == 200


def call(client, data):
    """Call the page's only handler as a program would; give all that is said."""
    body = {"data": data, "fn_index": 0, "session_hash": "test", "trigger_id": 1}
    answer = client.post("/gradio_api/queue/join", json=body)
    if answer.status_code != 200:
        return answer.text
    said = []
    with client.stream("GET", "/gradio_api/queue/data?session_hash=test") as events:
        for line in events.iter_lines():
            said.append(line)
            if any(word in line for word in ("process_completed", "close_stream")):
                break
    return "\n".join(said)


def test_its_room_is_for_its_owner_alone_and_holds_no_photo(server, home, turned):
    room = home / ".page"
    assert room.stat().st_mode & 0o077 == 0
    assert list((room / "gradio").rglob("*.jpg")) == []
    assert list((room / "incoming").iterdir()) == []
    assert turned.exists()


def test_it_listens_at_this_machine_alone(server):
    assert not connects("127.0.0.2", server.port)
    assert connects("127.0.0.1", server.port)
    listed = Path("/proc/net/tcp")
    if listed.exists():
        rows = [line.split() for line in listed.read_text().splitlines()[1:]]
        port = f":{server.port:04X}"
        places = {row[1] for row in rows if row[1].endswith(port) and row[3] == "0A"}
        assert places == {f"0100007F{port}"}


def connects(address, port):
    try:
        socket.create_connection((address, port), timeout=5).close()
    except OSError:
        return False
    return True


def test_no_component_that_runs_texts_or_serves_files_is_used():
    forbidden = (
        r"gr\.(HTML|File|Image|Plot|Model3D|load|ImageSlider|Dataframe|Gallery)\b"
    )
    for path in (ROOT / "ui" / "page").glob("*.py"):
        source = path.read_text(encoding="utf-8")
        assert not re.search(forbidden, source), path.name
        assert not re.search(r"\bjs\s*=", source), path.name
    for path in (ROOT / "ui" / "page" / "static").glob("*.js"):
        source = path.read_text(encoding="utf-8")
        assert not re.search(
            r"innerHTML|outerHTML|insertAdjacentHTML|\beval\(|document\.write", source
        )


SPY = """
import json, os, socket
real, kept = socket.getaddrinfo, os.environ["SPY_FILE"]
def note(what):
    with open(kept, "a") as file:
        file.write(json.dumps(what) + "\\n")
def look_up(host, *rest, **more):
    if host not in (None, "", "localhost", "127.0.0.1", "::1", socket.gethostname()):
        note(["look-up", str(host)])
    return real(host, *rest, **more)
socket.getaddrinfo = look_up
connect = socket.socket.connect
def connecting(self, address):
    if self.family in (socket.AF_INET, socket.AF_INET6):
        if address[0] not in ("127.0.0.1", "::1"):
            note(["connect", str(address)])
    return connect(self, address)
socket.socket.connect = connecting
"""


@pytest.mark.slow
def test_the_page_reaches_out_to_nobody_whatever_the_environment_says(
    tmp_path, monkeypatch, watched
):
    (tmp_path / "spy").mkdir()
    (tmp_path / "spy" / "sitecustomize.py").write_text(SPY)
    kept = tmp_path / "noted"
    for name, value in HOSTILE.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("SPY_FILE", str(kept))
    server = Server(tmp_path / "jobs")
    server.search = [str(tmp_path / "spy")]
    server.start()
    try:
        page = ready(watched.open(server.address))
        expect(page.locator("#dw-open")).to_be_visible()
        assert not connects("127.0.0.2", server.port)
        assert "share" not in " ".join(server.lines)
    finally:
        server.stop()
    noted = kept.read_text().splitlines() if kept.exists() else []
    assert [json.loads(line) for line in noted] == []


def test_a_taken_port_is_a_sentence(server, tmp_path):
    command = [sys.executable, "-m", "ui", "page", "--jobs", str(tmp_path)]
    done = subprocess.run(
        [*command, "--port", str(server.port)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 4
    assert "in use by another program" in done.stderr
    assert "Traceback" not in done.stderr
