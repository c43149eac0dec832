"""Files are written whole or not at all."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from fruitcast.atomic import write_all_atomically, write_atomically
from fruitcast.errors import OutputError


def test_a_file_and_its_folder_are_made(tmp_path):
    target = tmp_path / "out" / "plan.csv"
    write_atomically(target, b"one")
    write_atomically(target, b"two")
    assert target.read_bytes() == b"two"
    assert [path.name for path in target.parent.iterdir()] == ["plan.csv"]


def test_a_file_that_cannot_be_placed_leaves_all_as_they_were(tmp_path):
    (tmp_path / "a").write_bytes(b"old a")
    (tmp_path / "c").mkdir()
    (tmp_path / "c" / "in the way").write_bytes(b"x")
    files = {tmp_path / "a": b"new a", tmp_path / "b": b"new b", tmp_path / "c": b"new c"}
    with pytest.raises(OutputError, match=r"cannot be written.*nothing was changed"):
        write_all_atomically(files)
    assert (tmp_path / "a").read_bytes() == b"old a"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a", "c"]


def test_a_full_disk_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch):
    (tmp_path / "a").write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left on device"):
        write_atomically(tmp_path / "a", b"new")
    assert (tmp_path / "a").read_bytes() == b"old"
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_folder_that_is_a_file_is_named(tmp_path):
    (tmp_path / "out").write_bytes(b"")
    with pytest.raises(OutputError, match=r"out.*Check the folder"):
        write_atomically(tmp_path / "out" / "plan.csv", b"x")


def test_permissions_are_kept_and_new_files_follow_the_users_mask(tmp_path):
    private = tmp_path / "private"
    private.write_bytes(b"")
    private.chmod(0o600)
    write_all_atomically({private: b"x", tmp_path / "new": b"x"})
    assert private.stat().st_mode & 0o777 == 0o600
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o666 & ~mask


def test_a_reader_never_sees_half_a_file(tmp_path):
    target: Path = tmp_path / "plan.json"
    contents = [bytes([65 + k]) * 200_000 for k in range(4)]
    write_atomically(target, contents[0])
    seen: set[bytes] = set()
    stop = threading.Event()

    def read() -> None:
        while not stop.is_set():
            seen.add(target.read_bytes())

    reader = threading.Thread(target=read)
    reader.start()
    for k in range(60):
        write_atomically(target, contents[k % 4])
    stop.set()
    reader.join()
    assert seen <= set(contents)
