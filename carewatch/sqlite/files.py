"""The database as a file: where it may lie, who may read it, and copies of it that are whole."""

import os
import sqlite3
import stat
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from carewatch.sqlite.refused import StoreRefused, damaged, refusal_of

PRIVATE_FILE = 0o600
PRIVATE_FOLDER = 0o700
# "care" in ASCII, in the header of every database of carewatch; migrations/0001 writes it.
APPLICATION_ID = 0x63617265
# Write-ahead logging needs memory shared between processes, which these do not give: sqlite.org/wal.html.
_NETWORK_FILE_SYSTEMS = frozenset(
    "9p afs ceph cifs fuse.ceph fuse.glusterfs fuse.s3fs fuse.sshfs glusterfs ncpfs nfs nfs4 smb3 smbfs".split()
)
_HEADER = b"SQLite format 3\x00"
_MOUNTS = Path("/proc/self/mountinfo")


def wal_of(path: Path) -> Path:
    """The write-ahead log beside a database."""
    return path.with_name(f"{path.name}-wal")


def shm_of(path: Path) -> Path:
    """The index of the write-ahead log beside a database."""
    return path.with_name(f"{path.name}-shm")


def prepare_file(path: Path) -> None:
    """
    See that the database can lie at `path`: its folder there, the file at least empty, both private.

    path: absolute.

    Raises StoreRefused for a place that cannot hold a database, a file that is none, and a write-ahead log without the
    database to which it belongs.
    """
    _make_folder(path.parent)
    if _MOUNTS.exists():
        refuse_mount(path, _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape"))
    refuse_orphaned_log(path)
    try:
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, PRIVATE_FILE))
    except FileExistsError:
        check_header(path)
        _check_writable(path)
    except OSError as error:
        raise _cannot(path, "be created", error) from None
    for each in (path, wal_of(path), shm_of(path)):
        _make_private(each)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    except FileExistsError:
        raise StoreRefused(f"{folder} is a file; the database needs a folder there") from None
    except OSError as error:
        raise _cannot(folder, "be made", error) from None
    if not os.access(folder, os.W_OK | os.X_OK):
        raise StoreRefused(f"the folder {folder} cannot be written by this user; the database keeps its log beside it")


def _check_writable(path: Path) -> None:
    """SQLite would open a file that cannot be written for reading, and fail at the first entry."""
    try:
        os.close(os.open(path, os.O_RDWR | os.O_CLOEXEC))
    except OSError as error:
        raise _cannot(path, "be written", error) from None


def _make_private(path: Path) -> None:
    """Take reading away from group and others where this user may: the log tells when nobody is at home."""
    try:
        status = path.stat()
        if status.st_mode & 0o077 and status.st_uid == os.geteuid():
            path.chmod(PRIVATE_FILE)
    except FileNotFoundError:
        pass
    except OSError as error:
        raise _cannot(path, "be made private", error) from None


def refuse_mount(path: Path, mountinfo: str) -> None:
    r"""
    Refuse a database on a network file system, and one that is mounted as a single file.

    mountinfo: text of /proc/self/mountinfo (proc(5)); fields are separated by blanks, which names write as \040.
    """
    best, kind = "", ""
    for line in mountinfo.splitlines():
        before, _, after = line.partition(" - ")
        fields, kinds = before.split(), after.split()
        if len(fields) < 5 or not kinds:
            continue
        point = fields[4].replace("\\040", " ").replace("\\011", "\t").replace("\\134", "\\")
        # The last of several mounts on one point hides those before it.
        if Path(point) in (path, *path.parents) and len(point) >= len(best):
            best, kind = point, kinds[0]
    if kind in _NETWORK_FILE_SYSTEMS:
        raise StoreRefused(
            f"{path} lies on a network file system ({kind}, mounted at {best}), where the database would not be safe. "
            f"Set [storage] path to a local disk, and copy backups to the network instead"
        )
    if best == str(path):
        raise StoreRefused(
            f"{path} is mounted as a single file, which leaves out the log beside it. Mount its folder instead"
        )


def refuse_orphaned_log(path: Path) -> None:
    """Refuse to begin anew beside a write-ahead log that still holds what happened: SQLite would delete it."""
    log = wal_of(path)
    try:
        left = log.stat().st_size > 0 and (not path.exists() or path.stat().st_size == 0)
    except FileNotFoundError:
        return
    if left:
        raise StoreRefused(
            f"{path} is {'empty' if path.exists() else 'missing'}, but {log.name} beside it still holds entries. Put "
            f"the database back where it was, or move {log.name} away and restore a backup"
        )


def check_header(path: Path) -> None:
    """
    See that a file is empty or begins as every SQLite database does. It is read, not opened as a database.

    Raises StoreRefused when it is something else or cannot be read.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise StoreRefused(f"{path} is no file; the database needs one")
        with path.open("rb") as file:
            start = file.read(len(_HEADER))
    except OSError as error:
        raise _cannot(path, "be read", error) from None
    if start and start != _HEADER:
        raise StoreRefused(
            f"{path} is not a database; it was left as it is. Name a database, or a file that does not exist yet"
        )


def is_ours(connection: sqlite3.Connection, path: Path) -> bool:
    """
    True for a database of carewatch, False for one in which there is nothing yet.

    Raises StoreRefused for a database of another program.
    """
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    if application == APPLICATION_ID:
        return True
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if application or tables:
        raise StoreRefused(f"{path} is the database of another program; it was left as it is")
    return False


def check_content(connection: sqlite3.Connection, path: Path, thorough: bool = False) -> None:
    """
    See that the content of a database holds together.

    thorough: as for `faults_of`.

    Raises StoreRefused with what is wrong and how to go on.
    """
    faults = faults_of(connection, thorough)
    if faults:
        raise damaged(path, faults)


def faults_of(connection: sqlite3.Connection, thorough: bool = False) -> str:
    """
    What does not hold together in a database, "" when all does.

    thorough: compare indexes with their tables as well, which takes several times as long.
    """
    rows = connection.execute("PRAGMA integrity_check(3)" if thorough else "PRAGMA quick_check(3)").fetchall()
    said = "; ".join(str(row[0]) for row in rows)
    return "" if said == "ok" else " ".join(said.split())


def copy_database(source: sqlite3.Connection, target: Path) -> None:
    """
    A whole copy of an open database as one private file, checked, in place of what was at `target`.

    It is made beside its final place and moved there at the end: there is the old file or the new, never half of one.

    Raises StoreRefused when the copy cannot be written or does not hold together.
    """
    with draft_beside(target) as draft:
        try:
            with closing(sqlite3.connect(draft, isolation_level=None)) as copy:
                source.backup(copy)
                # The copy says of itself that it has a log beside it, as its source had; a backup is one file.
                copy.execute("PRAGMA journal_mode = DELETE")
                faults = faults_of(copy)
        except sqlite3.Error as error:
            raise refusal_of(error, target) from None
        if faults:
            raise StoreRefused(
                f"{target} was left as it was: the copy is damaged, as is what it was taken from ({faults})"
            )


@contextmanager
def draft_beside(target: Path) -> Iterator[Path]:
    """A private empty file beside `target`, which takes its place when the block ends well and is deleted otherwise."""
    try:
        descriptor, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    except OSError as error:
        raise _cannot(target, "be written", error) from None
    os.close(descriptor)
    draft = Path(name)
    try:
        yield draft
        to_disk(draft)
        draft.replace(target)
        to_disk(target.parent)
    except OSError as error:
        raise _cannot(target, "be written", error) from None
    finally:
        draft.unlink(missing_ok=True)
        draft.with_name(f"{draft.name}-journal").unlink(missing_ok=True)


def to_disk(path: Path) -> None:
    """See that a file, or the names in a folder, would outlive a pulled plug."""
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _cannot(path: Path, what: str, error: OSError) -> StoreRefused:
    return StoreRefused(f"{path} cannot {what}: {(error.strerror or str(error)).lower()}")
