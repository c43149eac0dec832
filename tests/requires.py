"""What only some tests need: skipped at home when absent, never where CI is set."""

from __future__ import annotations

import importlib
import importlib.util
import os
import shutil
from pathlib import Path
from types import ModuleType
from typing import NoReturn

import pytest


def need(module: str) -> ModuleType:
    """Return a module, or skip the calling test; under CI a missing one fails it."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        _absent(module, error)


def need_file(package: str, inside: str) -> Path:
    """Return a file or folder of an installed package without importing the package."""
    spec = importlib.util.find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        _absent(package, None)
    path = Path(spec.submodule_search_locations[0]) / inside
    if not path.exists():
        pytest.fail(f"{package} is installed but has no {inside}: has the package changed?")
    return path


NODE_MODULES = "FRUITCAST_NODE_MODULES"
"""Environment variable that names the folder into which npm has installed the tests' modules."""


def need_program(name: str) -> str:
    """Return the path of a program of the system, or skip the calling test."""
    path = shutil.which(name)
    if path is None:
        _absent(f"the program {name}", None)
    return path


def need_node_module(name: str) -> Path:
    """Return the folder of a module installed by npm, or skip the calling test."""
    path = Path(os.environ.get(NODE_MODULES, "node_modules")).absolute() / name
    if not path.is_dir():
        _absent(f"the node module {name} (folder in {NODE_MODULES})", None)
    return path


def _absent(package: str, error: ImportError | None) -> NoReturn:
    message = f"{package} is not installed (tests extra, see DEVELOPERS.md)"
    if os.environ.get("CI"):
        pytest.fail(f"{message}, and CI must not skip it: {error}")
    pytest.skip(message, allow_module_level=True)
