"""Plans of a round that are compared, not judged: short searches, in other processes too."""

from __future__ import annotations

from typing import Any

from fruitcast.app.group import plan_task
from tests.yards import quick_search


def quick_task(*given: Any) -> Any:
    """Do what `plan_task` does; other processes find it by its name."""
    with quick_search():
        return plan_task(*given)
