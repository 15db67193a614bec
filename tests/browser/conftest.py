"""A real page in a real browser: own server process, own context a test.

A test fails on any error in the console, any error of a script and any request that
leaves this machine.  Tests wait for what a person would see, never for a time.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from ui.record import Opened, add_photo, check_job, new_job_name, open_job

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
DESK = {"viewport": {"width": 1280, "height": 860}}
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}
WAIT_MS = 30_000


def find_browser():
    named = os.environ.get("DOTWARD_CHROMIUM", "")
    names = [named, "chromium", "chromium-browser", "google-chrome"]
    return next((path for name in names if name and (path := shutil.which(name))), None)


def pytest_collection_modifyitems(items):
    here = Path(__file__).parent
    reason = ""
    if find_browser() is None:
        reason = "no Chromium here: install the package chromium"
    for item in items:
        if here in Path(item.path).parents:
            item.add_marker(pytest.mark.browser)
            # A browser on a busy machine now and then loses a key or runs out of
            # time; a fault of ours fails every time, and a repeat is reported.
            item.add_marker(pytest.mark.flaky(reruns=2))
            if reason:
                item.add_marker(pytest.mark.skip(reason=reason))


class Server:
    """The page as a process of its own, as a person starts it."""

    def __init__(self, home, *options):
        self.home = home
        self.options = options
        self.process = None
        self.lines = []
        self.port = 0
        self.search = []

    def start(self):
        command = [sys.executable, "-m", "ui", "page", "--jobs", str(self.home)]
        self.process = subprocess.Popen(
            [*command, "--port", str(self.port), *self.options],
            cwd=ROOT,
            env={
                **os.environ,
                "PYTHONPATH": os.pathsep.join([*self.search, str(ROOT)]),
                "PYTHONIOENCODING": "utf-8",
            },
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        self.lines = []
        for line in self.process.stdout:
            self.lines.append(line.rstrip("\n"))
            if line.startswith("Ctrl-C"):
                break
        else:
            raise AssertionError(f"the page did not start: {self.lines}")
        self.port = urlsplit(self.address).port
        return self

    @property
    def address(self):
        words = " ".join(self.lines).split()
        return next(word for word in words if word.startswith("http")).rstrip("/")

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()

    def stop(self):
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(timeout=15)
        self.process.stdout.close()


@contextmanager
def serving(home, *options):
    server = Server(home, *options).start()
    try:
        yield server
    finally:
        server.stop()


@pytest.fixture(scope="session")
def home(tmp_path_factory):
    return tmp_path_factory.mktemp("jobs")


@pytest.fixture(scope="session")
def server(home):
    with serving(home) as server:
        yield server


@pytest.fixture(scope="session")
def browser():
    sync_api = pytest.importorskip("playwright.sync_api")
    sync_api.expect.set_options(timeout=WAIT_MS)
    with sync_api.sync_playwright() as play:
        made = play.chromium.launch(
            executable_path=find_browser(),
            args=[
                "--no-sandbox",  # tests may run as root, in a container
                "--use-fake-ui-for-media-stream",
                "--use-fake-device-for-media-stream",
            ],
        )
        yield made
        made.close()


class Watched:
    """Opens pages and keeps what went wrong in them."""

    def __init__(self, browser):
        self.browser = browser
        self.contexts = []
        self.wrong = []
        self.allowed = []

    def open(self, address, **settings):
        given = {"reduced_motion": "reduce", **DESK, **settings}
        context = self.browser.new_context(**given)
        context.set_default_timeout(WAIT_MS)
        self.contexts.append(context)
        page = context.new_page()
        self.watch(page)
        page.goto(address)
        return page

    def watch(self, page):
        page.on("pageerror", lambda error: self.wrong.append(f"script: {error}"))
        page.on("console", self._console)
        page.on("request", self._request)

    def _console(self, message):
        if message.type == "error" and not any(a in message.text for a in self.allowed):
            self.wrong.append(f"console: {message.text} {message.location}")

    def _request(self, request):
        place = urlsplit(request.url)
        if place.scheme in ("data", "blob"):
            return
        if place.hostname not in ("127.0.0.1", "localhost", "dotward.test"):
            self.wrong.append(f"left this machine: {request.url}")


@pytest.fixture
def watched(browser):
    made = Watched(browser)
    yield made
    for context in made.contexts:
        context.close()
    assert made.wrong == []


def ready(page, screen="bench"):
    """Wait until a screen has drawn itself."""
    page.wait_for_selector(f"html[data-ready={screen}]", state="attached")
    expect = pytest.importorskip("playwright.sync_api").expect
    expect(page).to_have_title(re.compile(r"\S"))  # Gradio sets it, at times later
    return page


def make_job(home, photos, *, is_judged=True, part="TIDE-25C", patient="Tide logger 7"):
    """Open a job with sample photos, ``{"before": "patient_before.jpg", ...}``."""
    folder = open_job(
        home,
        Opened(job=new_job_name(), technician="Ada", part=part, patient=patient),
    )
    for stage, name in photos.items():
        add_photo(folder, SAMPLES / name, stage=stage, by="Ada")
    if is_judged:
        # Loads the networks, which takes a moment.
        from ui.checker import tool_checker  # noqa: PLC0415

        check_job(folder, tool_checker())
    return folder


@pytest.fixture(scope="session")
def turned(home):
    """A judged job whose chip was soldered the wrong way round."""
    return make_job(home, {"before": "patient_before.jpg", "after": "after_turned.jpg"})


@pytest.fixture(scope="session")
def looked(home):
    """A judged job with a photo before lifting alone."""
    return make_job(home, {"before": "patient_before.jpg"})


def bench(watched, server, job, *, stage="", who="Ada", **settings):
    query = f"?job={job.name}" + (f"&stage={stage}" if stage else "")
    page = ready(watched.open(f"{server.address}/{query}", **settings))
    page.locator(".bench-you input").fill(who)
    return page


def view_of(page):
    return page.evaluate(
        """() => { const g = document.querySelector('.pane-layer g');
        return g.getAttribute('transform').match(/[-\\d.]+/g).map(Number); }"""
    )
