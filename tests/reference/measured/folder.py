"""The files of a folder that a reader knows, read; and why others were left."""

import gzip
from collections.abc import Iterator
from pathlib import Path

from tests.reference.measured.record import NotScored, Record
from tests.reference.measured.stations import FORMS

HEAD_BYTES = 12_000


def records_in(folder: Path) -> Iterator[tuple[Path, Record | str]]:
    """Every file of the folder in the order of their names, as a record or as the reason why there is none."""
    for path in sorted(folder.iterdir()):
        if path.is_file():
            yield path, read(path)


def read(path: Path) -> Record | str:
    """The record of a file, or the reason why there is none."""
    head = _head(path)
    form = next((form for form in FORMS if form.knows(path, head)), None)
    if form is None:
        return "format not known"
    try:
        return form.read(path)
    except NotScored as reason:
        return f"{form.name}: {reason}"


def _head(path: Path) -> str:
    with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as file:
        return file.read(HEAD_BYTES).decode("latin-1")
