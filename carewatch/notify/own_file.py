"""A file that exists only while it is sent, in a folder of its own that no other user can look into."""

import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_NOT_IN_A_NAME = re.compile(r"[^a-z0-9.-]+")


@contextmanager
def own_file(name: str, content: bytes) -> Iterator[Path]:
    """
    The path of a new private file with this content, which is gone with its folder at the end of the block.

    name: what the person sees; anything but small letters, digits, dots and hyphens in it becomes a hyphen.

    Raises OSError when it cannot be written.
    """
    # The folder is made for this process's user alone (mode 0700) under a name that cannot be guessed.
    folder = Path(tempfile.mkdtemp(prefix="carewatch-"))
    try:
        path = folder / (_NOT_IN_A_NAME.sub("-", name.lower()).strip(".-") or "picture")
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
        yield path
    finally:
        shutil.rmtree(folder, ignore_errors=True)
