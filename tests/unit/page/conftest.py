"""A page without Gradio and without a process, for tests of its routes."""

from __future__ import annotations

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from tests.unit.page.idle_worker import IdleWorker
from tests.unit.record.helpers import open_test_job
from ui.page.app import add_error_words
from ui.page.context import PageContext
from ui.page.job_routes import job_router
from ui.page.picture_routes import picture_router


@pytest.fixture
def context(tmp_path):
    cache = tmp_path / "cache"
    for name in ("incoming", "reports", "pictures"):
        (cache / name).mkdir(parents=True)
    return PageContext(home=tmp_path / "jobs", cache=cache, worker=IdleWorker())


@pytest.fixture
def job(context):
    return open_test_job(context.home)


@pytest.fixture
def client(context):
    app = FastAPI()
    app.include_router(job_router(context))
    app.include_router(picture_router(context))
    add_error_words(app)
    return TestClient(app, raise_server_exceptions=False)
