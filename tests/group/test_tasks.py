"""Tasks are done once each wherever they run, and again where a worker is lost."""

from __future__ import annotations

from concurrent.futures import Future

import pytest

from fruitcast.app.tasks import WorkerLostError, run_tasks
from fruitcast.errors import InputError
from tests.group.small_tasks import once_deadly, square


def results(found: dict[int, Future[int]]) -> dict[int, int]:
    return {key: future.result() for key, future in found.items() if not future.exception()}


@pytest.mark.parametrize("processes", [1, 2])
def test_every_task_is_done_and_a_fault_stays_its_own(processes):
    tasks = ((number, (number,)) for number in range(20))
    found = dict(run_tasks(square, tasks, processes=processes))
    assert sorted(found) == list(range(20))
    assert results(found) == {number: number**2 for number in range(20) if number != 13}
    assert str(found[13].exception()) == "thirteen is not for us"


def test_tasks_are_taken_a_few_at_a_time():
    taken = []

    def tasks():
        for number in range(50):
            taken.append(number)
            yield number, (number,)

    running = run_tasks(square, tasks(), processes=2)
    next(running)
    assert len(taken) <= 8
    running.close()


def test_a_lost_workers_tasks_run_again_and_only_the_deadly_one_is_given_up(tmp_path):
    tasks = ((number, (number, tmp_path)) for number in range(12))
    found = dict(run_tasks(once_deadly, tasks, processes=2))
    assert results(found) == {number: number**2 for number in range(12) if number != 5}
    assert (tmp_path / "3").exists()
    with pytest.raises(WorkerLostError, match="ended twice"):
        found[5].result()


def test_where_the_cluster_package_is_missing_it_is_said(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(InputError, match=r"pip install 'fruitcast\[cluster\]'"):
        dict(run_tasks(square, [(1, (1,))], cluster="tcp://127.0.0.1:1"))
