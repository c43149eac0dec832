"""The search's loop as machine code: compiled once after installing, kept in a file, called.

numba compiles `annealing.py` to code that needs neither numba nor Python any more. It is kept as an
object file, which the much smaller llvmlite takes up in a hundredth of a second. A file goes by
what it was made from: source, kinds of arrays, processor, llvmlite. Anything else, and a file that
is not whole, is compiled anew.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Callable, Iterator, Sequence
from ctypes import CFUNCTYPE, byref, c_double, c_int32, c_int64, c_void_p
from functools import cache, partial
from pathlib import Path
from typing import Any

import llvmlite
import llvmlite.binding as llvm

from fruitcast.atomic import write_atomically
from fruitcast.errors import OutputError

try:
    import fcntl
except ImportError:  # a system without such locks: then each process compiles
    fcntl = None  # type: ignore[assignment]

PREPARING = "preparing the planner, once after installing: some 10 s"

FOLDER_VARIABLE = "FRUITCAST_CACHE"
"""Names the folder to keep machine code in, before all others."""

_SOURCE = Path(__file__).with_name("annealing.py")

_THROUGH = (0, -2)
"""What a function compiled by numba says when nothing went wrong."""

_taken_up: dict[str, tuple[Callable[..., int], llvm.ExecutionEngine]] = {}
"""The loop in memory, and what keeps it there."""

_unkept: list[str] = []
"""What is to be said where it could be kept nowhere."""


def ready_search(
    given: Sequence[Any], told: Callable[[str], None]
) -> Callable[[int, int, int, float], None]:
    """Return `annealing.search` with all but its last four arguments, which it is called with.

    Parameters
    ----------
    given : sequence
        Named tuples of arrays, arrays, whole numbers and floats.
    told : callable
        Told in words when it must be compiled first.

    Raises
    ------
    ValueError
        If an array's numbers do not lie one after the other.
    """
    key = _key(tuple(map(_kind, given)))
    if key not in _taken_up:
        code = _kept(key)
        if code is None:
            told(PREPARING)
            with _alone(key):
                code = _kept(key)
                if code is None:
                    code = _compiled((*given, 0, 0, 0, 0.0))
                    _keep(key, code)
        address, engine = _take_up(code)
        kinds = (*_kinds(given), c_int64, c_int64, c_int64, c_double)
        # Of two threads the first's stays: without its engine the code that it calls is gone.
        _taken_up.setdefault(key, (CFUNCTYPE(c_int32, c_void_p, c_void_p, *kinds)(address), engine))
    return partial(_call, _taken_up[key][0], given, list(_flat(given)))


def complaints() -> tuple[str, ...]:
    """Return what is to be said where what was compiled just now could be kept nowhere."""
    return tuple(_unkept)


def _call(
    search: Callable[..., int],
    given: Sequence[Any],
    values: list[float],
    first: int,
    past: int,
    moves: int,
    allowance: float,
) -> None:
    """Call the loop; `given` is handed over only to be kept, since `values` tell where it lies."""
    found, trouble = c_void_p(), c_void_p()
    last = (first, past, moves, allowance)
    if search(byref(found), byref(trouble), *values, *last) not in _THROUGH:
        raise RuntimeError("the compiled search failed")


def _flat(given: Sequence[Any]) -> Iterator[float]:
    """Yield arguments as numba hands them over: arrays as their size, place, shape and strides."""
    for one in given:
        if isinstance(one, int | float):
            yield one
        else:
            for array in one if isinstance(one, tuple) else (one,):
                if not (array.flags.c_contiguous and array.flags.aligned):
                    raise ValueError("an array of the search does not lie in one piece")
                # Nothing counts references to it, and no object of Python's owns it.
                place = array.__array_interface__["data"][0]
                yield from (0, 0, array.size, array.itemsize, place, *array.shape, *array.strides)


def _kinds(given: Sequence[Any]) -> Iterator[type]:
    """Yield what each of the values of `_flat` is for C."""
    for one in given:
        if isinstance(one, int | float):
            yield c_double if isinstance(one, float) else c_int64
        else:
            for array in one if isinstance(one, tuple) else (one,):
                yield from (c_void_p, c_void_p, c_int64, c_int64, c_void_p)
                yield from (c_int64,) * (2 * array.ndim)


def _kind(one: Any) -> str:
    if isinstance(one, tuple):
        return f"{getattr(one, '_fields', ())}{[_kind(array) for array in one]}"
    return f"{one.dtype.str}{one.ndim}" if hasattr(one, "dtype") else type(one).__name__


@cache
def _machine() -> tuple[str, str, str]:
    """Return what code is made for: kind of system, processor, what it can do."""
    try:
        features = llvm.get_host_cpu_features().flatten()
    except RuntimeError:  # not told on every system
        features = ""
    return llvm.get_process_triple(), llvm.get_host_cpu_name(), features


@cache
def _key(kinds: tuple[str, ...]) -> str:
    made_from = [llvmlite.__version__, *_machine(), *kinds]
    return hashlib.sha256("\n".join(made_from).encode() + _read(_SOURCE)).hexdigest()


@cache
def _read(source: Path) -> bytes:
    return source.read_bytes()


def _compiled(given: Sequence[Any]) -> bytes:
    """Return an object file with `search` for such arguments."""
    from numba import typeof

    from fruitcast.soaks import annealing

    function = annealing.compiled(tuple(map(typeof, given)))(annealing.search)
    module = llvm.parse_assembly(function.inspect_llvm(function.signatures[0]))
    # All else in there is told from it by its linkage.
    for one in module.functions:
        if not one.is_declaration and one.linkage == llvm.Linkage.external:
            one.name = "search"
    return bytes(_target().emit_object(module))


def _target() -> llvm.TargetMachine:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    _, processor, features = _machine()
    return llvm.Target.from_default_triple().create_target_machine(
        cpu=processor, features=features, opt=3, jit=True
    )


def _take_up(code: bytes) -> tuple[int, llvm.ExecutionEngine]:
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), _target())
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    return engine.get_function_address("search"), engine


def _folders() -> list[Path]:
    """Return where code is kept; the first folder that can be written takes it."""
    named = os.environ.get(FOLDER_VARIABLE)
    own = Path(os.environ.get("XDG_CACHE_HOME") or Path("~/.cache").expanduser())
    return [*([Path(named)] if named else []), _SOURCE.parent / "__pycache__", own / "fruitcast"]


def _kept(key: str) -> bytes | None:
    for folder in _folders():
        with contextlib.suppress(OSError):
            held = (folder / f"search-{key[:16]}.o").read_bytes()
            whole, code = held[:32], held[32:]
            if whole == hashlib.sha256(key.encode() + code).digest():
                return code
    return None


@contextlib.contextmanager
def _alone(key: str) -> Iterator[None]:
    """Wait until no other process compiles the same, and let others wait."""
    with contextlib.ExitStack() as held:
        for folder in _folders() if fcntl else ():
            with contextlib.suppress(OSError):
                folder.mkdir(parents=True, exist_ok=True)
                name = folder / f"search-{key[:16]}.lock"
                lock = held.enter_context(name.open("w"))
                # Who waits for a name that is gone by then finds what was kept before it went.
                held.callback(name.unlink, missing_ok=True)
                fcntl.flock(lock, fcntl.LOCK_EX)
                break
        yield


def _keep(key: str, code: bytes) -> None:
    held = hashlib.sha256(key.encode() + code).digest() + code
    for folder in _folders():
        with contextlib.suppress(OSError, OutputError):
            folder.mkdir(parents=True, exist_ok=True)
            write_atomically(folder / f"search-{key[:16]}.o", held)
            return
    _unkept.append(
        f"The planner is prepared anew each time, which takes some 10 s: it can be kept neither "
        f"in {' nor in '.join(map(str, _folders()))}. Name a folder that can be written in "
        f"{FOLDER_VARIABLE}."
    )
