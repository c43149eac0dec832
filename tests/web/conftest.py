"""The small yard and a visitor of its page."""

from __future__ import annotations

import pytest

from tests.web.sites import Now, Visitor, make_app, write_site


@pytest.fixture
def now():
    return Now()


@pytest.fixture
def folder(tmp_path):
    return write_site(tmp_path / "yard")


@pytest.fixture
def visitor(folder, now):
    return Visitor(make_app(folder, now))
