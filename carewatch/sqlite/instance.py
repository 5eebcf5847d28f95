"""One owner at a time: a lock beside the database that a crashed process cannot leave behind."""

import fcntl
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from carewatch.sqlite.refused import StoreRefused


class InstanceClaim:
    """
    The right to be the only service on one database, until it is released or the process ends.

    The lock is the kernel's, on the open file `<database>.lock`; the process id in it is for people. The file stays:
    deleting it while another process waits would let two owners in.
    """

    def __init__(self, descriptor: int) -> None:
        self._descriptor: int | None = descriptor

    def release(self) -> None:
        """Give the claim back; a second time does nothing."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def claim(database: Path) -> InstanceClaim:
    """
    The claim on the database at this path.

    Raises StoreRefused when another process, or another claim of this process, holds it (transient), or when the file
    beside the database cannot be written.
    """
    path = database.with_name(f"{database.name}.lock")
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
    except OSError as error:
        raise StoreRefused(f"{path} cannot be written: {(error.strerror or str(error)).lower()}") from None
    try:
        # flock, not lockf: a lock of the latter kind is lost as soon as any part of the process closes the file.
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
    except BlockingIOError:
        owner = _owner(descriptor)
        os.close(descriptor)
        raise StoreRefused(
            f"the database {database} is in use by {owner}. One service at a time: stop that one first", transient=True
        ) from None
    except OSError as error:
        os.close(descriptor)
        raise StoreRefused(f"{path} cannot be locked: {(error.strerror or str(error)).lower()}") from None
    return InstanceClaim(descriptor)


def _owner(descriptor: int) -> str:
    said = os.pread(descriptor, 32, 0).decode("ascii", "replace").strip()
    return f"another carewatch (process {said})" if said.isdecimal() else "another carewatch"
