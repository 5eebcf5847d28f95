"""Whether the files of a configuration still say what they said when they were read."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from carewatch.config.document import digest_of
from carewatch.config.load import Loaded
from carewatch.config.problems import ConfigProblem

GONE_ACCEPTED = "the file as it was, or an empty one if its places and trees are meant to go"
NO_TREES_ACCEPTED = "at least one [[tree]]; start the service anew if none is to be watched"


def digests(paths: Iterable[Path]) -> dict[Path, str]:
    """
    The hash of every file's bytes as they are now, "" for one that is not there or cannot be read.

    Bytes and not times are compared: copies keep times, and some file systems know full seconds only.
    """
    return {path: _digest(path) for path in paths}


def lost(before: Loaded, after: Loaded) -> list[ConfigProblem]:
    """
    What is gone in a way that a person hardly means: a whole file, or every tree.

    before: what is in force. Such files can be read, and would end the watch without a word.
    """
    problems = []
    garden = after.garden_file
    if garden == before.garden_file and _there(before.digests, garden) and not _there(after.digests, garden):
        problems.append(ConfigProblem(str(garden), None, "the file", None, GONE_ACCEPTED, (), "is gone"))
    elif before.garden.trees and not after.garden.trees:
        problems.append(
            ConfigProblem(str(after.config_file), None, "tree", None, NO_TREES_ACCEPTED, (), "has none left")
        )
    return problems


def _there(found: Mapping[Path, str], path: Path) -> bool:
    return bool(found.get(path))


def _digest(path: Path) -> str:
    try:
        return digest_of(path.read_bytes())
    except (OSError, ValueError):
        return ""
