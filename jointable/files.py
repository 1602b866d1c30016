"""Writing a file so that it is whole or not there: to a temporary place first, then moved."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from jointable.errors import InputError

__all__ = ["replacing", "write_text"]


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A temporary path beside `path` that takes its place when the block ends without an error.

    Raises:
        InputError: The folder cannot be written, or the disk is full.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}-", suffix=path.suffix, dir=path.parent or ".")
        os.close(handle)
    except OSError as error:
        raise _unwritable(path, error) from None
    temporary = Path(name)
    try:
        yield temporary
        mask = os.umask(0)
        os.umask(mask)
        temporary.chmod(0o666 & ~mask)
        os.replace(temporary, path)
    except OSError as error:
        raise _unwritable(path, error) from None
    finally:
        temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write a text file in UTF-8, whole or not at all."""
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


def _unwritable(path: Path, error: OSError) -> InputError:
    return InputError(
        f"cannot be written ({error.strerror})",
        file=str(path),
        expected="a path in a folder that can be written",
    )
