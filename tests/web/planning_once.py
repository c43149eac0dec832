"""The quick planning process that makes one plan after a record: browsers wait for no second."""

from __future__ import annotations

from unittest import mock

from fruitcast.web import planning_process
from tests.web import quick_planning

if __name__ == "__main__":
    with mock.patch.object(planning_process, "THOROUGH", (False,)):
        quick_planning.main()
