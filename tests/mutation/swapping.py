"""Put a damaged module in the place of the one that runs, without importing anything again."""

from __future__ import annotations

import ast
import functools
import sys
import types
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from tests.mutation.mutants import Place, damaged

SIMPLE = (bool, int, float, str, tuple, frozenset, dict, types.NoneType)
"""Kinds of constants that are put in the place of the old ones."""


class UnswappableError(Exception):
    """A damage that cannot be put in place: to a member of an enumeration, to what nobody calls."""


@contextmanager
def swapped(place: Place) -> Iterator[str]:
    """Run with one damage in place; gives its words."""
    tree, words = damaged(place)
    undo = swap(running(place.module), tree)
    try:
        yield words
    finally:
        for step in reversed(undo):
            step()


def running(name: str) -> types.ModuleType:
    """The module that the tests call: the search's loop runs as plain Python under another name."""
    found = [m for m in list(sys.modules.values()) if getattr(m, "__name__", "") == name]
    if not found:
        raise UnswappableError(f"no test calls {name} in this process")
    return found[0]


def swap(module: types.ModuleType, tree: ast.Module) -> list[Callable[[], None]]:
    """Give a module's functions the code of a changed tree; returns the steps that undo it.

    Others hold the functions themselves, so each keeps its identity and gets new code; a changed
    constant is put wherever the old one was imported under the same name.
    """
    new = types.ModuleType(module.__name__)
    new.__file__ = module.__file__
    # A data class looks its module up by name while it is made.
    sys.modules[module.__name__] = new
    try:
        exec(compile(tree, str(module.__file__), "exec"), new.__dict__)
    finally:
        sys.modules[module.__name__] = module
    undo: list[Callable[[], None]] = []
    for name, value in list(vars(new).items()):
        old = vars(module).get(name)
        if name.startswith("__"):
            continue
        if isinstance(value, type) and isinstance(old, type):
            if value.__module__ == module.__name__:
                swap_class(old, value, undo)
        elif code_of(value) is not None and getattr(value, "__module__", "") == module.__name__:
            swap_code(old, value, undo)
        elif isinstance(value, SIMPLE) and isinstance(old, SIMPLE) and repr(old) != repr(value):
            for other in list(sys.modules.values()):
                if getattr(other, "__dict__", {}).get(name) is old and is_ours(other):
                    put(other, name, value, undo)
    return undo


def is_ours(module: types.ModuleType) -> bool:
    return module.__name__.split(".")[0] in ("fruitcast", "tests")


def code_of(value: Any) -> types.FunctionType | None:
    """The function under a property, a cache or a decorator."""
    while True:
        if isinstance(value, types.FunctionType) and not hasattr(value, "__wrapped__"):
            return value
        if isinstance(value, property):
            value = value.fget
        elif isinstance(value, functools.cached_property):
            value = value.func
        elif isinstance(value, classmethod | staticmethod):
            value = value.__func__
        elif hasattr(value, "__wrapped__"):
            value = value.__wrapped__
        else:
            return None


def swap_code(old: Any, new: Any, undo: list[Callable[[], None]]) -> None:
    before, after = code_of(old), code_of(new)
    if before is None or after is None:
        return
    for name in ("__code__", "__defaults__", "__kwdefaults__"):
        put(before, name, getattr(after, name), undo)
    if hasattr(old, "cache_clear"):
        old.cache_clear()
        undo.append(old.cache_clear)


def swap_class(old: type, new: type, undo: list[Callable[[], None]]) -> None:
    for name, value in list(vars(new).items()):
        if code_of(value) is not None:
            swap_code(vars(old).get(name), value, undo)
        elif not name.startswith("__") and isinstance(value, SIMPLE):
            before = vars(old).get(name)
            if isinstance(before, SIMPLE) and repr(before) != repr(value):
                put(old, name, value, undo)


def put(holder: Any, name: str, value: Any, undo: list[Callable[[], None]]) -> None:
    before = getattr(holder, name)
    try:
        setattr(holder, name, value)
    except AttributeError as error:
        raise UnswappableError(f"{name} of {holder} cannot be changed while it runs") from error
    undo.append(lambda: setattr(holder, name, before))
