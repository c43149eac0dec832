"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import glob
import os
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

from fruitcast.errors import OutputError

ABANDONED = 3600.0
"""Age past which a temporary file was left by a program that was stopped. Judgement. [s]"""

# An editor's own side files, like .stacks.csv.swp, must never be taken for ours.
_SUFFIX = ".part"


def write_atomically(path: Path, data: bytes) -> None:
    """Write one file so that a reader sees the old content or the new, never a part.

    Raises OutputError if the file cannot be written; what was there before is untouched.
    """
    write_all_atomically({path: data})


def write_all_atomically(files: Mapping[Path, bytes]) -> None:
    """Write several files that belong together, all of them or none.

    Raises OutputError if any of the files cannot be written; what was there before is untouched.
    """
    with files_in_place(files):
        pass


@contextlib.contextmanager
def files_in_place(files: Mapping[Path, bytes]) -> Iterator[None]:
    """Write several files that belong together; if the block fails, what was there comes back.

    Every file is first written in full beside its target. Only when all are on the disk are they
    put in place, by renaming, which needs no room; so does taking them back. A power cut between
    two of the renamings can still leave a mixture of whole files. Raises OutputError if any of the
    files cannot be written; then the block is not run.
    """
    put: dict[Path, Path | None] = {}
    with _staged(files) as staged:
        try:
            for path, temporary in staged.items():
                try:
                    before = _second_name(path)
                    put[path] = before
                    temporary.replace(path)
                except OSError as error:
                    raise _cannot_write(path, error) from error
            yield
        except BaseException:
            _take_back(put)
            raise
        finally:
            for before in put.values():
                if before is not None:
                    before.unlink(missing_ok=True)


def check_writable(path: Path) -> None:
    """Make sure that a file could be written, its folder made if there is none.

    Raises OutputError if it could not.
    """
    with _staged({path: b""}):
        pass


def _temporary(path: Path) -> tuple[int, str]:
    return tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=_SUFFIX)


def _second_name(path: Path) -> Path | None:
    """Return another name of a file that is about to be replaced, None if there is no file."""
    if not path.exists():
        return None
    handle, name = _temporary(path)
    os.close(handle)
    second = Path(name)
    try:
        second.unlink()
        second.hardlink_to(path)
    except OSError:  # a disk without such links
        shutil.copy2(path, second)
    return second


def _take_back(put: Mapping[Path, Path | None]) -> None:
    for path, before in put.items():
        with contextlib.suppress(OSError):
            if before is None:
                path.unlink(missing_ok=True)
            else:
                before.replace(path)


@contextlib.contextmanager
def _staged(files: Mapping[Path, bytes]) -> Iterator[dict[Path, Path]]:
    """Write each file under a temporary name beside its target; clear away what is left."""
    staged: dict[Path, Path] = {}
    made: list[Path] = []
    done = False
    try:
        for path, data in files.items():
            try:
                made += _make_folder(path.parent)
                _clear_abandoned(path)
                handle, name = _temporary(path)
                staged[path] = Path(name)
                with os.fdopen(handle, "wb") as stream:
                    stream.write(data)
                    stream.flush()
                    os.fsync(stream.fileno())
                staged[path].chmod(_permissions(path))
            except OSError as error:
                raise _cannot_write(path, error) from error
        yield staged
        done = True
    finally:
        for temporary in staged.values():
            temporary.unlink(missing_ok=True)
        if not done:
            for folder in reversed(made):
                with contextlib.suppress(OSError):
                    folder.rmdir()


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and those above it; return the new ones, the outermost first."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()][::-1]
    folder.mkdir(parents=True, exist_ok=True)
    return missing


def _clear_abandoned(path: Path) -> None:
    """Remove what programs that were stopped midway have left beside a file."""
    for left in path.parent.glob(f".{glob.escape(path.name)}.*{_SUFFIX}"):
        with contextlib.suppress(OSError):
            if time.time() - left.stat().st_mtime > ABANDONED:
                left.unlink()


def _permissions(path: Path) -> int:
    """Permission bits for the new file: the old one's, else what the user's mask leaves."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _cannot_write(path: Path, error: OSError) -> OutputError:
    return OutputError(
        f"{path}: cannot be written ({error.strerror or error}). Check the folder, its "
        "permissions and the free space; nothing was changed."
    )
