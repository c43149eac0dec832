"""The search's loop as plain Python: each of its steps can be called and looked at by itself."""

from __future__ import annotations

import importlib.util
import sys
from functools import partial
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any
from unittest.mock import patch

import numpy as np

from fruitcast.soaks import machine_code
from fruitcast.soaks.problem import Plan
from fruitcast.soaks.search import CHANCES, Search
from fruitcast.soaks.search_work import Work


def uncompiled(**_: Any) -> Any:
    """Leave a function as it is, in the place of numba's `njit`."""
    return lambda function: function


def loaded() -> ModuleType:
    """Return `annealing.py` uncompiled, kept under a name of its own."""
    path = Path(machine_code.__file__).with_name("annealing.py")
    spec = importlib.util.spec_from_file_location("fruitcast.soaks.annealing", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    with patch.dict(sys.modules, numba=SimpleNamespace(njit=uncompiled)):
        spec.loader.exec_module(module)
    sys.modules[f"{__name__}.annealing"] = module
    return module


annealing = loaded()


def work_on(search: Search, plan: Plan, free: tuple[int, ...] | None = None) -> tuple[Work, Any]:
    """Return what a search works on, begun and booked, and its loop: `annealing.search`."""
    work = search.work(plan, search.problem.seed)
    stacks = range(len(plan)) if free is None else free
    given = (*work, search.problem.members, np.array(stacks, dtype=np.int64), CHANCES)
    return work, partial(annealing.search, *given)


def paths(work: Work) -> Plan:
    """Return the plan in what a search works on."""
    each = zip(work.plan.paths.tolist(), work.plan.counts.tolist(), strict=True)
    return tuple(tuple(path[:count]) for path, count in each)
