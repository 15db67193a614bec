"""The gate: names, origins, closed paths, headers.  Each danger was seen in Gradio."""

from __future__ import annotations

import pytest

from ui.page.gate import CONTENT_POLICY, Guard, is_open

HOST = "127.0.0.1:7717"
HOSTS = frozenset({HOST, "localhost:7717"})


class OneCookie:
    """Lets in whoever brings the one right cookie."""

    def is_inside(self, cookie):
        return cookie == "right"


async def app(scope, receive, send):
    headers = [
        (b"content-type", b"text/plain"),
        (b"access-control-allow-origin", b"https://evil.example"),
        (b"Access-Control-Allow-Credentials", b"true"),
        (b"content-security-policy", b"default-src *"),
    ]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": b"inside"})


def run(coroutine):
    """Run what never has to wait; no event loop, for another test may hold one."""
    with pytest.raises(StopIteration):
        coroutine.send(None)


def ask(path="/", *, method="GET", door=None, host=HOST, **headers):
    """Send one request through the gate; give status and headers."""
    listed = [(b"host", host.encode())] if host is not None else []
    listed += [
        (name.replace("_", "-").encode(), value.encode())
        for name, value in headers.items()
    ]
    scope = {"type": "http", "method": method, "path": path, "headers": listed}
    sent = []

    async def send(message):
        sent.append(message)

    guard = Guard(app, hosts=HOSTS, door=door)
    run(guard(scope, None, send))
    return sent[0]["status"], dict(sent[0]["headers"])


@pytest.mark.parametrize("host", [HOST, "localhost:7717", "LOCALHOST:7717"])
def test_its_own_names_are_answered(host):
    assert ask(host=host)[0] == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:7717", "127.0.0.1", "127.0.0.1:80", "", None],
)
def test_another_name_is_misdirected(host):
    assert ask(host=host)[0] == 421


def test_two_host_headers_are_misdirected():
    scope = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "headers": [(b"host", HOST.encode()), (b"host", b"evil.example")],
    }
    refused = Guard(app, hosts=HOSTS).refusal(scope)
    assert refused is not None
    assert refused.status == 421


@pytest.mark.parametrize(
    "path",
    [
        "/gradio_api/upload",
        "/gradio_api/upload_progress",
        "/gradio_api/file=/etc/passwd",
        "/gradio_api/file=https://example.com/",
        "/gradio_api/proxy=https://example.com/",
        "/gradio_api/stream/x/y/z",
        "/gradio_api/call/open_it",
        "/gradio_api/run/predict",
        "/gradio_api/info",
        "/gradio_api/openapi.json",
        "/gradio_api/mcp/sse",
        "/gradio_api/runs",
        "/gradio_api/deep_link",
        "/gradio_api/component_server",
        "/gradio_api/vibe-edit/",
        "/gradio_api/app_id",
        "/monitoring",
        "/monitoring/summary",
        "/login",
        "/token",
        "/docs",
        "/openapi.json",
        "/robots.txt",
        "/manifest.json",
        "/.env",
    ],
)
def test_what_is_not_named_is_closed(path):
    assert ask(path)[0] == 404
    assert ask(path, method="POST")[0] == 404


@pytest.mark.parametrize(
    "path",
    ["/own/../app.py", "/api//job", "/own/..\\x", "/static/%00\0", "/own/a\nb"],
)
def test_no_path_leads_out(path):
    assert not is_open(path)


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
        {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate"},
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_website_is_refused(headers, method):
    assert ask("/api/bench/jobs", method=method, **headers)[0] == 403


def test_a_link_elsewhere_may_lead_to_a_page_and_only_there():
    link = {
        "sec_fetch_site": "cross-site",
        "sec_fetch_mode": "navigate",
        "sec_fetch_dest": "document",
    }
    assert ask("/", **link)[0] == 200
    assert ask("/review", **link)[0] == 200
    assert ask("/", method="POST", **link)[0] == 403
    assert ask("/api/job/x", **link)[0] == 403
    assert ask("/", **{**link, "sec_fetch_dest": "iframe"})[0] == 403


def test_its_own_scripts_pass():
    own = {"origin": f"http://{HOST}", "sec_fetch_site": "same-origin"}
    assert ask("/api/bench/jobs", method="POST", **own)[0] == 200


def test_no_permission_for_other_origins_ever_leaves():
    _, headers = ask()
    names = {name.lower() for name in headers}
    assert not any(name.startswith(b"access-control") for name in names)
    assert headers[b"content-security-policy"] == CONTENT_POLICY.encode()
    assert headers[b"x-frame-options"] == b"DENY"
    assert headers[b"x-content-type-options"] == b"nosniff"
    assert headers[b"referrer-policy"] == b"no-referrer"


def test_texts_can_never_run_as_code():
    assert "unsafe-eval" not in CONTENT_POLICY
    assert "http:" not in CONTENT_POLICY
    assert "*" not in CONTENT_POLICY


def test_a_report_may_run_no_script_at_all():
    policy = ask("/job/20260131-k7q2mx/report")[1][b"content-security-policy"]
    assert b"script-src" not in policy
    assert policy.startswith(b"default-src 'none'")


def test_refusals_are_protected_too():
    status, headers = ask("/monitoring")
    assert status == 404
    assert b"content-security-policy" in headers


def test_a_door_lets_nobody_in_without_a_session():
    door = OneCookie()
    assert ask(door=door)[0] == 401
    assert ask(door=door, cookie="wrong")[0] == 401
    assert ask(door=door, cookie="right")[0] == 200
    for path in ("/gradio_api/queue/join", "/theme.css", "/static/x.js"):
        assert ask(path, door=door)[0] == 401
    for path in ("/enter", "/healthz", "/own/base.css"):
        assert ask(path, door=door)[0] == 200


def test_a_websocket_is_closed():
    sent = []

    async def send(message):
        sent.append(message)

    scope = {"type": "websocket", "path": "/", "headers": []}
    run(Guard(app, hosts=HOSTS)(scope, None, send))
    assert sent == [{"type": "websocket.close", "code": 1008}]
