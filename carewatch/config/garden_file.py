"""garden.toml as programs write it: what they add goes to its end, and what stands there stays to the last sign."""

import os
import stat
import tempfile
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from carewatch.care.garden import Garden
from carewatch.config.document import BYTE_ORDER_MARK
from carewatch.config.load import Loaded, load
from carewatch.config.new_tree import tree_table
from carewatch.config.problems import ConfigErrors, ConfigProblem
from carewatch.config.tables import Tables

HEAD = "# Places and trees that commands have added. Yours to edit: what stands here is never changed by carewatch.\n"
GARDEN_VARIABLE = "CAREWATCH_STORAGE__GARDEN"


@dataclass(frozen=True)
class Addition:
    """
    A tree that is about to be added.

    file: that will hold it. garden: with the tree, and the log of the files. place: puts the new file in the place of
    the old one, at once or not at all.
    """

    file: Path
    garden: Garden
    place: Callable[[], None]


@contextmanager
def tree_added(
    loaded: Loaded,
    values: Mapping[str, object],
    comment: str,
    environ: Mapping[str, str],
    now: datetime,
    tables: Tables,
    dry_run: bool,
) -> Iterator[Addition]:
    """
    The garden with one more tree, for a block that calls `place` to let the garden file say so.

    The whole configuration is read with the new content before the block begins, so that nothing is written that could
    not be read. Comments, layout and mode of the file stay. If the block fails, the old file is put back.

    values: keys of a [[tree]], as `new_tree.checked_tree` gives them. comment: stands above the tree. dry_run: nothing
    is written.

    Raises ConfigErrors when the garden would not be accepted or its file changed meanwhile; OSError when it cannot be
    written.
    """
    path = Path(os.path.realpath(loaded.garden_file))
    before = _content(path)
    after = with_tree(before, values, comment, path)
    like = path if path.exists() else loaded.config_file
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="carewatch-"))) if dry_run else path.parent
        draft = stack.enter_context(_draft(folder, path.name, after, like))
        # What is wrong then is told as of any configuration, though checked values leave little to find.
        grown = load(loaded.config_file, {**environ, GARDEN_VARIABLE: str(draft.absolute())}, now, tables)
        placed = False

        def place() -> None:
            nonlocal placed
            if dry_run:
                return
            if _content(path) != before:
                raise _changed(path)
            draft.replace(path)
            placed = True
            _to_disk(path.parent)

        try:
            yield Addition(path, grown.garden, place)
        except BaseException:
            if placed:
                _put_back(path, before, like)
            raise


def with_tree(before: bytes | None, values: Mapping[str, object], comment: str, path: Path) -> bytes:
    """
    The content of a garden file with one more tree.

    before: None where there is no file yet. Raises ConfigErrors for a file whose trees stand in one inline list that
    cannot be added to.
    """
    data = before or b""
    mark = BYTE_ORDER_MARK if data.startswith(BYTE_ORDER_MARK) else b""
    try:
        text = data.removeprefix(BYTE_ORDER_MARK).decode("utf-8")
        old = tomllib.loads(text)
    except ValueError:
        # It was read as the garden a moment ago.
        raise _changed(path) from None
    end = "\r\n" if "\r\n" in text else "\n"
    if isinstance(old.get("tree"), list) and _is_inline(text):
        added = _in_inline_list(text, values)
    else:
        head = text if text.strip() else text + HEAD
        gap = "" if head.endswith("\n") else end
        added = head + gap + end + tree_table(values, comment).replace("\n", end)
    new: dict[str, object] = {}
    with suppress(tomllib.TOMLDecodeError):
        new = tomllib.loads(added)
    if new != {**old, "tree": [*old.get("tree", []), dict(values)]}:
        accepted = "a file in which each tree has its own [[tree]]; write the new tree there by hand"
        raise ConfigErrors([ConfigProblem(str(path), None, "tree", None, accepted, (), "cannot be added to")])
    return mark + added.encode()


def _is_inline(text: str) -> bool:
    """Whether the trees stand in `tree = [...]`, to which TOML allows no [[tree]] to be added."""
    return not any(line.strip().replace(" ", "").startswith("[[tree]]") for line in text.splitlines())


def _in_inline_list(text: str, values: Mapping[str, object]) -> str:
    try:
        document = tomlkit.parse(text)
        inline = tomlkit.inline_table()
        inline.update(values)
        document["tree"].append(inline)
        return tomlkit.dumps(document)
    except TOMLKitError:
        return text


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


@contextmanager
def _draft(folder: Path, name: str, content: bytes, like: Path) -> Iterator[Path]:
    """A file with this content and the mode and owner of `like`, deleted at the end unless it was moved away."""
    folder.mkdir(parents=True, exist_ok=True)
    status = like.stat()
    descriptor, made = tempfile.mkstemp(prefix=f".{name}.", suffix=".draft", dir=folder)
    draft = Path(made)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            # Root may edit the file of the service's user; nobody else can give a file away.
            with suppress(PermissionError):
                os.fchown(descriptor, status.st_uid, status.st_gid)
            os.fchmod(descriptor, stat.S_IMODE(status.st_mode))
            os.fsync(descriptor)
        yield draft
    finally:
        draft.unlink(missing_ok=True)


def _put_back(path: Path, before: bytes | None, like: Path) -> None:
    if before is None:
        path.unlink()
        return
    with _draft(path.parent, path.name, before, like) as draft:
        draft.replace(path)


def _changed(path: Path) -> ConfigErrors:
    accepted = "the same content as before; run the command again"
    return ConfigErrors([ConfigProblem(str(path), None, "", None, accepted, (), "was changed meanwhile")])


def _to_disk(folder: Path) -> None:
    """See that the new name in a folder would outlive a pulled plug."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
