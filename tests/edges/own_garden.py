"""The demo's garden as if it were one's own: its files copied to a folder, and the real commands run on them."""

import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from unittest.mock import patch

from carewatch.sqlite.database import Database
from tests.outlook.gardens import Document, Ran, ran

DEMO = Path(str(files("carewatch") / "demo"))
# Half an hour after the forecast of the demo's cold night was issued.
NOW = datetime(2026, 11, 5, 11, 30, tzinfo=UTC)


@dataclass(frozen=True)
class OwnGarden:
    """A folder with a configuration, a recorded forecast, and the database that commands make."""

    folder: Path

    @property
    def config(self) -> Path:
        """The configuration file."""
        return self.folder / "config.toml"

    @property
    def database(self) -> Path:
        """The database; commands make it when they first write."""
        return self.folder / "carewatch.sqlite"

    def ran(self, *arguments: str, at: datetime = NOW) -> Ran:
        """A command, run in this process by a clock that stands still."""
        clock = self.folder / "clock.txt"
        clock.write_text(at.isoformat(), encoding="utf-8")
        with patch.dict(os.environ, {"CAREWATCH_CLOCK": f"file:{clock}"}):
            done = ran(*arguments, "--config", str(self.config))
        assert "Traceback" not in done.err
        return done

    def document(self, *arguments: str, at: datetime = NOW) -> Document:
        """The JSON document of a command."""
        return self.ran(*arguments, "--json", at=at).document()

    def refused(self, *arguments: str, code: int, at: datetime = NOW) -> str:
        """What a command says that fails with this code, and says nothing else."""
        done = self.ran(*arguments, at=at)
        assert (done.code, done.out) == (code, "")
        return done.err

    def log(self, tree: str, *arguments: str) -> list[Document]:
        """The entries of one tree that stand in the database."""
        found = self.document("log", tree, "show", *arguments)["entries"]
        return [entry for entry in found if entry["number"] is not None]

    def opened(self) -> Database:
        """The database itself."""
        return Database.open(self.database, NOW)

    def age_beyond_this_version(self) -> None:
        """Let the database look as if a later version had written it."""
        self.opened().close()
        with closing(sqlite3.connect(self.database)) as connection, connection:
            connection.execute("INSERT INTO migration VALUES (99, 'later', '2026-11-05T11:00:00Z')")


def own_garden(folder: Path) -> OwnGarden:
    """The demo's autumn garden, copied to a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(DEMO / "autumn.toml", folder / "config.toml")
    shutil.copyfile(DEMO / "cold-night.json", folder / "cold-night.json")
    return OwnGarden(folder)
