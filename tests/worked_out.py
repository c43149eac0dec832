"""What takes long and comes out of its inputs alone is worked out once for all tests of a process.

The same few yards, climates and tables come again and again: four in five water balances are of
inputs that some test before had. Tests of a rule itself call it where it is written, not where
others have it from, so that theirs is worked out each time. So must a test do that changes what a
rule goes by besides its inputs.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import fields, is_dataclass
from functools import wraps
from hashlib import blake2b
from typing import Any
from unittest import mock

import numpy as np

MOST = 100_000_000
"""Of the answers of each function; those asked for longest ago go first. [byte]"""

anew = False
"""Whether all is worked out each time: the mutation tester changes the rules themselves."""


def once(function: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function that answers the same inputs from memory.

    Nothing may be written into the arrays of an answer, which is held to.
    """
    kept: dict[bytes, tuple[Any, int]] = {}
    size = 0

    @wraps(function)
    def answer(*given: Any, **options: Any) -> Any:
        nonlocal size
        key = blake2b(pickle.dumps((given, options), protocol=5)).digest()
        if key in kept:
            kept[key] = kept.pop(key)
            return kept[key][0]
        found = function(*given, **options)
        kept[key] = found, _protected(found)
        size += kept[key][1]
        while size > MOST and len(kept) > 1:
            size -= kept.pop(next(iter(kept)))[1]
        return found

    return answer


def _protected(found: Any) -> int:
    """Let nobody write into an answer's arrays, and return how large they are. [byte]"""
    if not is_dataclass(found):
        return 0
    arrays = [getattr(found, field.name) for field in fields(found)]
    arrays = [values for values in arrays if isinstance(values, np.ndarray)]
    for values in arrays:
        values.flags.writeable = False
    return sum(values.nbytes for values in arrays)


@contextmanager
def worked_out_once() -> Iterator[None]:
    """Let water balances, tables of a typical season and questions about weather be kept."""
    from fruitcast.forecast import typical_seasons, water
    from fruitcast.weather import doubts

    with ExitStack() as patches:
        for name, *modules in (
            ("simulate_moisture", water),
            ("season_table", typical_seasons),
            ("questions", doubts),
        ):
            kept = once(getattr(modules[0], name))
            for module in modules:
                patches.enter_context(mock.patch.object(module, name, kept))
        yield
