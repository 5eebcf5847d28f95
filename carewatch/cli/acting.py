"""What commands that write have in common: the garden, a database or a passing copy of it, refusals in words."""

import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from carewatch.cli.config_commands import show_refusal
from carewatch.cli.documents import encoded
from carewatch.cli.reports import FAILED, FINE, MISUSED, Refusal, sentence
from carewatch.cli.screen import console, error
from carewatch.config.load import Loaded, find_config, load
from carewatch.config.problems import ConfigErrors
from carewatch.config.secrets import SecretMissing
from carewatch.config.tables import Tables, load_tables
from carewatch.sqlite.database import Database
from carewatch.sqlite.refused import StoreRefused

DRY = "Dry run: nothing was written."


def finished(action: Callable[[], int]) -> int:
    """The exit code of an action; what a person can cause is told in words on standard error."""
    try:
        return action()
    except Refusal as refused:
        error(refused.text)
        return refused.code
    except ConfigErrors as refused:
        show_refusal(refused)
        return MISUSED
    except SecretMissing as refused:
        error(sentence(str(refused)))
        return MISUSED
    except StoreRefused as refused:
        error(sentence(refused.reason))
        return FAILED
    except BrokenPipeError:
        raise
    except OSError as refused:
        name = f"{refused.filename}: " if refused.filename else ""
        error(f"{name}{(refused.strerror or str(refused)).lower()}. Nothing was changed.")
        return FAILED


def garden_of(explicit: str | None, environ: Mapping[str, str], now: datetime) -> tuple[Loaded, Tables]:
    """The configuration and the tables. Raises ConfigErrors."""
    tables = load_tables()
    return load(find_config(explicit, environ), environ, now, tables), tables


@contextmanager
def database_of(loaded: Loaded, now: datetime, dry_run: bool) -> Iterator[Database]:
    """
    The garden's database, made if it is missing; for a dry run a copy that is thrown away, so that every check is made.

    Raises StoreRefused.
    """
    if not dry_run:
        with Database.open(loaded.database_file, now) as database:
            yield database
        return
    with Database.open_for_reading(loaded.database_file, now) as database:
        if database.path is None:
            # There is no file yet, or one of an older shape: what was opened is a copy in memory already.
            yield database
            return
        with tempfile.TemporaryDirectory(prefix="carewatch-") as folder:
            passing = Path(folder) / "passing.sqlite"
            database.copy_to(passing)
            with Database.open(passing, now) as copy:
                yield copy


def tell(document: object, lines: Sequence[str], as_json: bool, dry_run: bool = False) -> int:
    """Print the one JSON document, or the lines for a person; the exit code for "fine"."""
    if as_json:
        sys.stdout.write(encoded(document) + "\n")
        return FINE
    screen = console()
    for line in (*lines, *((DRY,) if dry_run else ())):
        # A line in a file or a pipe stays whole: paths are copied from there.
        screen.print(line, markup=False, emoji=False, soft_wrap=not screen.is_terminal)
    return FINE
