"""Pure tasks on an executor: in this process, in processes of this machine, or on a cluster.

A task is a function and what it is given, all of it; it reads and writes no file. So it gives the
same wherever it runs and however often, and one whose worker is lost is run again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import active_children, get_context
from signal import SIG_IGN, SIGINT, signal
from threading import current_thread, main_thread
from typing import Any, TypeVar

from fruitcast import __version__
from fruitcast.errors import FruitcastError, InputError

PROCESSES = 2
"""So many at a time unless somebody says otherwise."""

CLUSTER_WINDOW = 64
"""Tasks handed to a cluster before the first of them is back: what they are given lies in this
process so long. A bound of the calculation."""

CONNECT_SECONDS = 15
"""How long a cluster's address is tried. [s]"""

Key = TypeVar("Key")
Result = TypeVar("Result")


class WorkerLostError(FruitcastError):
    """A task ended the process that it ran in, and again when it ran there alone."""


def run_tasks(
    function: Callable[..., Result],
    tasks: Iterable[tuple[Key, tuple[Any, ...]]],
    *,
    processes: int = PROCESSES,
    cluster: str | None = None,
) -> Generator[tuple[Key, Future[Result]], None, None]:
    """Yield each task's key with its finished future, in the order in which they finish.

    Close it when the rest is not wanted: then its processes end at once. The function is of a
    module's top level, so that another process finds it. A task is what names it and what the
    function is given, taken a few at a time, so that not all of it lies in memory. So many
    `processes` work at a time, this one itself when 1; or those of the dask.distributed scheduler
    at the address `cluster`. Raises InputError if the cluster can't be reached, or its workers have
    another version of this program.
    """
    if cluster is not None:
        yield from _on_cluster(function, tasks, cluster)
    elif processes <= 1:
        for key, given in tasks:
            future: Future[Result] = Future()
            try:
                future.set_result(function(*given))
            except Exception as error:
                future.set_exception(error)
            yield key, future
    else:
        yield from _in_processes(function, tasks, processes)


def _in_processes(
    function: Callable[..., Result], tasks: Iterable[tuple[Key, tuple[Any, ...]]], processes: int
) -> Iterator[tuple[Key, Future[Result]]]:
    """Yield tasks done in processes; those of a pool that lost one are run again, one by one.

    Which of them ended the process nobody can say: only one that does it again alone is given up.
    """
    waiting = iter(tasks)
    suspects: deque[tuple[Key, tuple[Any, ...]]] = deque()
    ended = False
    while not ended or suspects:
        alone = bool(suspects)
        with _pool(1 if alone else processes) as pool:
            source = iter([suspects.popleft()]) if alone else waiting
            for key, given, future in _flow(pool, function, source, 2 * processes):
                if not isinstance(future.exception(), BrokenProcessPool):
                    yield key, future
                elif alone:
                    yield key, _given_up("the process that worked on it was ended twice")
                else:
                    suspects.append((key, given))
            ended = ended or not (alone or suspects)


def _given_up(words: str) -> Future[Any]:
    """Return the future of a task that its worker does not survive."""
    found: Future[Any] = Future()
    found.set_exception(
        WorkerLostError(
            f"{words}, by the machine (memory?) or by a fault of ours. Try it with --processes 1."
        )
    )
    return found


def _flow(
    executor: Executor,
    function: Callable[..., Result],
    tasks: Iterator[tuple[Key, tuple[Any, ...]]],
    window: int,
) -> Iterator[tuple[Key, tuple[Any, ...], Future[Result]]]:
    """Yield what is done, handing on at most so many at a time; none once a process was lost."""
    running: dict[Future[Result], tuple[Key, tuple[Any, ...]]] = {}
    broken = False
    while True:
        while len(running) < window and not broken:
            task = next(tasks, None)
            if task is None:
                break
            try:
                with _left_alone():
                    running[executor.submit(function, *task[1])] = task
            except BrokenProcessPool as error:
                broken = True
                lost: Future[Result] = Future()
                lost.set_exception(error)
                yield *task, lost
        if not running:
            return
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            broken = broken or isinstance(future.exception(), BrokenProcessPool)
            yield *running.pop(future), future


@contextmanager
def _pool(processes: int) -> Iterator[Executor]:
    """Let processes work that Ctrl-C is not for; they end with the block, at once if it fails."""
    others = set(active_children())
    # Spawned rather than forked: the parent may hold threads, and all machines do the same.
    with ProcessPoolExecutor(
        processes, mp_context=get_context("spawn"), initializer=signal, initargs=(SIGINT, SIG_IGN)
    ) as pool:
        try:
            yield pool
        except BaseException:
            # What they are at would take long, and is wanted by nobody any more.
            pool.shutdown(wait=False, cancel_futures=True)
            for child in set(active_children()) - others:
                child.terminate()
            raise


@contextmanager
def _left_alone() -> Iterator[None]:
    """Let processes start that Ctrl-C, which a terminal sends to all, is not for."""
    if current_thread() is not main_thread():
        yield
        return
    before = signal(SIGINT, SIG_IGN)
    try:
        yield
    finally:
        signal(SIGINT, before)


def _on_cluster(
    function: Callable[..., Result], tasks: Iterable[tuple[Key, tuple[Any, ...]]], address: str
) -> Iterator[tuple[Key, Future[Result]]]:
    try:
        from distributed import Client, KilledWorker
    except ImportError:
        raise InputError(
            "--cluster needs the package 'distributed' (dask): pip install 'fruitcast[cluster]'."
        ) from None
    try:
        client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"{address}: no cluster answers there ({error}). Start one with 'dask scheduler', and "
            "'dask worker ADDRESS' wherever it is to work."
        ) from error
    with client:
        try:
            client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        except TimeoutError:
            raise InputError(
                f"{address}: this cluster has no workers. Start some: 'dask worker {address}'."
            ) from None
        for worker, version in client.run(program_version).items():
            if version != __version__:
                raise InputError(
                    f"{worker} works with fruitcast {version}, and this is {__version__}: the "
                    "yards would not be planned by one model. Install the same version there."
                )
        executor = client.get_executor(pure=False, retries=0)
        try:
            for key, _, future in _flow(executor, function, iter(tasks), CLUSTER_WINDOW):
                if isinstance(future.exception(), KilledWorker):
                    yield key, _given_up("the workers that worked on it were ended, one by one")
                else:
                    yield key, future
        finally:
            # What is not done by now is wanted by nobody any more.
            executor.shutdown(wait=False)


def program_version() -> str:
    """Return the version of the program where this runs."""
    return __version__
