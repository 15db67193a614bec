"""How soon the page is ready, how soon a photo is answered, how much memory it takes.

Run it on a quiet machine: ``python tests/benchmark/bench_page.py --photos 50``.
The photo is a sample enlarged to 12 megapixels.  Memory is that of the server and of
its worker together, as the system counts it (``VmRSS``; Linux only).
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import httpx
from PIL import Image
from playwright.sync_api import expect, sync_playwright

from tests.browser.conftest import SAMPLES, Server, find_browser, make_job, ready

SIZE_PX = (4000, 3000)


def memory_mb(server):
    """Give the resident memory of the server and its children, in MB."""
    number = server.process.pid
    numbers = [number]
    for path in Path(f"/proc/{number}/task").glob("*/children"):
        numbers += [int(word) for word in path.read_text().split()]
    total = 0
    for one in numbers:
        for line in Path(f"/proc/{one}/status").read_text().splitlines():
            if line.startswith("VmRSS:"):
                total += int(line.split()[1])
    return total / 1000


def until_healthy(server):
    """Wait for the first answer of /healthz."""
    while True:
        try:
            if httpx.get(f"{server.address}/healthz").status_code == 200:
                return
        except httpx.HTTPError:
            time.sleep(0.005)


def large_photo(place, number, name):
    """Write a 12-megapixel JPEG that differs from every other."""
    path = place / f"{number}-{name}"
    with Image.open(SAMPLES / name) as picture:
        box = (number, 0, *picture.size)
        large = picture.resize(SIZE_PX, Image.Resampling.BICUBIC, box=box)
    large.save(path, quality=92)
    return path


def send(page, path):
    """Choose a photo and wait for its answer, in s."""
    old = page.locator(".bench-answer").inner_text()
    page.evaluate(
        "old => { document.querySelector('.bench-answer').dataset.old = old; }", old
    )
    begun = time.perf_counter()
    page.locator("input[type=file]").nth(1).set_input_files(path)
    page.wait_for_selector(".bench-work:not([hidden])", state="attached")
    page.wait_for_function(
        """() => { const a = document.querySelector('.bench-answer');
        return document.querySelector('.bench-work').hidden
          && !a.classList.contains('none') && a.innerText; }"""
    )
    return time.perf_counter() - begun


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=6, help="how many are sent")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        place = Path(folder)
        server = Server(place / "jobs").start()
        browser = play.chromium.launch(
            executable_path=find_browser(), args=["--no-sandbox"]
        )
        try:
            print(json.dumps(measure(server, browser, place, given.photos)))
        finally:
            browser.close()
            server.stop()


def ready_s(browser, address):
    """Open a page in a browser that has never seen it; say when it is ready, in s."""
    context = browser.new_context()
    page = context.new_page()
    begun = time.perf_counter()
    page.goto(address)
    ready(page)
    taken_s = time.perf_counter() - begun
    context.close()
    return taken_s


def measure(server, browser, place, count):
    expect.set_options(timeout=60_000)
    until_healthy(server)
    starts = [ready_s(browser, server.address) for _ in range(5)]
    idle_mb = memory_mb(server)
    job = make_job(server.home, {}, is_judged=False)
    jobs = [ready_s(browser, f"{server.address}/?job={job.name}") for _ in range(5)]
    page = browser.new_context().new_page()
    page.goto(f"{server.address}/?job={job.name}&stage=before")
    ready(page)
    page.locator(".bench-you input").fill("Ada")
    answers, peak_mb = [], 0.0
    for number in range(count):
        path = large_photo(place, number, "patient_before.jpg")
        answers.append(send(page, path))
        peak_mb = max(peak_mb, memory_mb(server))
        path.unlink()
    return {
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "start_ready_first_s": round(starts[0], 2),
        "start_ready_median_s": round(statistics.median(starts), 2),
        "job_ready_median_s": round(statistics.median(jobs), 2),
        "idle_mb": round(idle_mb),
        "photos": count,
        "answer_first_s": round(answers[0], 2),
        "answer_median_s": round(statistics.median(answers), 2),
        "answer_worst_s": round(max(answers), 2),
        "peak_mb": round(peak_mb),
        "end_mb": round(memory_mb(server)),
    }


if __name__ == "__main__":
    main()
