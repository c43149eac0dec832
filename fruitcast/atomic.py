"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from fruitcast.errors import OutputError


def write_atomically(path: Path, data: bytes) -> None:
    """Write one file so that a reader sees the old content or the new, never a part.

    Raises
    ------
    OutputError
        If the file cannot be written; what was there before is untouched.
    """
    write_all_atomically({path: data})


def write_all_atomically(files: Mapping[Path, bytes]) -> None:
    """Write several files that belong together, all of them or none.

    Every file is first written in full beside its target. Only when all are on the disk are
    they put in place; should that fail midway, those already in place get their old content
    back. A power cut between two of the replacements can still leave a mixture of whole files.

    Raises
    ------
    OutputError
        If any of the files cannot be written.
    """
    with _staged(files) as staged:
        put: list[tuple[Path, bytes | None]] = []
        try:
            for path, temporary in staged.items():
                before = path.read_bytes() if path.exists() else None
                temporary.replace(path)
                put.append((path, before))
        except OSError as error:
            _restore(put)
            raise _cannot_write(error) from error


@contextlib.contextmanager
def _staged(files: Mapping[Path, bytes]) -> Iterator[dict[Path, Path]]:
    """Write each file under a temporary name beside its target; clear away what is left."""
    staged: dict[Path, Path] = {}
    try:
        try:
            for path, data in files.items():
                path.parent.mkdir(parents=True, exist_ok=True)
                handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
                staged[path] = Path(name)
                with os.fdopen(handle, "wb") as stream:
                    stream.write(data)
                    stream.flush()
                    os.fsync(stream.fileno())
                staged[path].chmod(_permissions(path))
        except OSError as error:
            raise _cannot_write(error) from error
        yield staged
    finally:
        for temporary in staged.values():
            temporary.unlink(missing_ok=True)


def _permissions(path: Path) -> int:
    """Permission bits for the new file: the old one's, else what the user's mask leaves."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _restore(put: list[tuple[Path, bytes | None]]) -> None:
    for path, before in put:
        with contextlib.suppress(OSError):
            if before is None:
                path.unlink()
            else:
                path.write_bytes(before)


def _cannot_write(error: OSError) -> OutputError:
    where = error.filename2 or error.filename or "the file"
    return OutputError(
        f"{where}: cannot be written ({error.strerror or error}). Check the folder, its "
        "permissions and the free space; nothing was changed."
    )
