"""`backup`, `restore`, `export` and `import`: what was written down outlives the machine, whole and private."""

import json
import os
import stat
from pathlib import Path

import pytest

from tests.edges.own_garden import OwnGarden, own_garden


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    """A garden with five entries, one of them struck and one corrected, and two readings, one corrected."""
    garden = own_garden(tmp_path / "garden")
    for arguments in (
        (
            "log",
            "elm",
            "sever-layer",
            "--roots",
            "fair",
            "--on",
            "2026-11-03",
            "--note",
            "“Wurzeln” am Ring\nzweite Zeile",
        ),
        ("log", "pine", "wire"),
        ("log", "maple-layer-1", "begin", "fleece"),
        ("log", "pine", "strike", "2"),
        ("log", "elm", "sacrifice", "--branch", "leader", "--due", "2027-08-20"),
        ("log", "elm", "amend", "1", "--roots", "sparse", "--on", "2026-11-02"),
        ("reading", "lawn", "-1.5"),
        ("reading", "lawn", "amend", "1", "-2.5"),
    ):
        done = garden.ran(*arguments)
        assert done.code == 0, done.err
    return garden


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_what_was_exported_comes_back_byte_for_byte_and_gives_the_same_outlook(own: OwnGarden, tmp_path: Path) -> None:
    out, again = tmp_path / "out", tmp_path / "again"
    written = own.document("export", str(out))
    assert {Path(file["path"]).name: file["bytes"] for file in written["files"]} == {
        name: len(data) for name, data in content(out).items()
    }
    assert [mode(path) for path in (out, *out.iterdir())] == [0o700, 0o600, 0o600, 0o600]

    other = own_garden(tmp_path / "other")
    imported = other.document("import", str(out))
    assert (imported["entries_new"], imported["readings_new"]) == (5, 2)
    assert other.ran("export", str(again)).code == 0

    assert content(again) == content(out)
    for command in (("outlook",), ("explain", "elm"), ("log", "elm", "--all"), ("reading", "lawn", "show", "--all")):
        assert other.ran(*command, "--json").out == own.ran(*command, "--json").out
    second = other.ran("import", str(out))
    assert "0 entries new, 5 known already; 0 readings new, 2 known already." in second.out


def test_a_backup_is_one_private_file_and_comes_back_whole(own: OwnGarden, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    said = own.ran("backup", str(copy)).out
    assert f"is written to {copy}" in said
    assert "KiB" in said
    assert mode(copy) == 0o600

    before = own.log("elm", "--all")
    assert own.ran("log", "elm", "water").code == 0
    restored = own.document("restore", str(copy))

    assert own.log("elm", "--all") == before
    assert restored["database"] == str(own.database)
    assert restored["bytes"] == own.database.stat().st_size
    assert Path(restored["kept"]).is_file()
    assert mode(own.database) == mode(Path(restored["kept"])) == 0o600


def test_nothing_is_restored_under_a_running_service(own: OwnGarden, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    assert own.ran("backup", str(copy)).code == 0
    assert own.ran("log", "elm", "water").code == 0

    with own.opened() as database, database.claim_instance():
        assert "in use by another carewatch" in own.refused("restore", str(copy), code=1)
        # Everything else may be done beside it.
        assert own.ran("backup", str(copy)).code == 0
        assert own.ran("log", "elm", "wire").code == 0
    assert len(own.log("elm")) == 4


def test_dry_runs_check_everything_and_write_nothing(own: OwnGarden, tmp_path: Path) -> None:
    copy, out = tmp_path / "copy.sqlite", tmp_path / "out"
    assert own.ran("backup", str(copy)).code == 0
    assert own.ran("export", str(out)).code == 0
    other = own_garden(tmp_path / "other")
    assert other.ran("log", "larch", "water").code == 0
    before = content(other.folder) | content(out)

    assert other.document("backup", str(tmp_path / "new.sqlite"), "--dry-run")["files"][0]["bytes"] > 0
    assert other.document("export", str(tmp_path / "new"), "--dry-run")["files"][0]["path"].startswith(str(tmp_path))
    assert other.document("import", str(out), "--dry-run")["entries_new"] == 5
    assert other.document("restore", str(copy), "--dry-run")["kept"] is None

    assert content(other.folder) | content(out) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.sqlite", "garden", "other", "out"]


def test_an_import_is_whole_or_nothing(own: OwnGarden, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert own.ran("export", str(out)).code == 0
    log = out / "care-log.jsonl"
    lines = log.read_text(encoding="utf-8").splitlines()
    entry = json.loads(lines[1]) | {"work": "severed"}
    log.write_text("\n".join([lines[0], json.dumps(entry), *lines[2:], ""]), encoding="utf-8")
    other = own_garden(tmp_path / "other")
    assert other.ran("log", "larch", "water").code == 0

    words = other.refused("import", str(out), code=1)

    assert 'line 2: work is "severed"; accepted: set-layer' in words
    assert [entry["work"] for entry in other.log("larch")] == ["water"]
    assert other.log("maple-layer-1") == []


def test_entries_that_nobody_can_reckon_with_are_named_at_import(own: OwnGarden, tmp_path: Path) -> None:
    """Trees come and go; a layer without a word on its roots would stop the outlook."""
    out = tmp_path / "out"
    assert own.ran("export", str(out)).code == 0
    log = out / "care-log.jsonl"
    text = log.read_text(encoding="utf-8").replace('"roots": "sparse", ', "").replace('"pine"', '"sold-pine"')
    log.write_text(text, encoding="utf-8")
    other = own_garden(tmp_path / "other")

    done = other.ran("import", str(out))

    assert done.code == 0
    assert "sever-layer of elm on 2026-11-02 is left out: it does not say how many roots there were." in done.err
    # The wiring of the pine was struck: nothing of a sold tree holds.
    assert "sold-pine" not in done.err
    assert other.ran("log", "elm", "show").code == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("backup", "{folder}/nowhere/copy.sqlite"), "There is no folder"),
        (("backup", "{folder}/nowhere/copy.sqlite", "--dry-run"), "There is no folder"),
        (("backup", "{folder}", "--dry-run"), "is a folder; a file is wanted"),
        (("backup", "{garden}/config.toml"), "is not a database; it was left as it is"),
        (("backup", "{garden}/carewatch.sqlite"), "belongs to the database itself"),
        (("restore", "{folder}/nowhere"), "There is no file"),
        (("restore", "{garden}/config.toml"), "is not a database"),
        (("restore", "{garden}/carewatch.sqlite"), "is the database itself"),
        (("export", "{garden}/config.toml"), "cannot be made"),
        (("export", "{garden}/config.toml", "--dry-run"), "is a file; a folder is wanted"),
        (("import", "{folder}/nowhere"), "There is no file and no folder"),
    ],
)
def test_a_path_that_cannot_be_meant_is_refused(own: OwnGarden, arguments: tuple[str, ...], said: str) -> None:
    before = content(own.folder)
    names = [part.format(folder=own.folder.parent, garden=own.folder) for part in arguments]

    assert said in own.refused(*names, code=1)
    assert {name: data for name, data in content(own.folder).items() if not name.endswith(".lock")} == before


def test_a_garden_without_a_database_has_nothing_to_keep(tmp_path: Path) -> None:
    own = own_garden(tmp_path)

    for command in ("backup", "export"):
        words = own.refused(command, str(tmp_path / "target"), code=1)
        assert f"There is no database at {own.database} yet" in words
    assert not own.database.exists()
    assert not (tmp_path / "target").exists()


def test_a_backup_of_a_newer_version_is_not_restored(own: OwnGarden, tmp_path: Path) -> None:
    newer = own_garden(tmp_path / "newer")
    newer.age_beyond_this_version()
    before = own.database.read_bytes()

    for dry in ((), ("--dry-run",)):
        assert "written by a newer carewatch" in own.refused("restore", str(newer.database), *dry, code=1)
    assert own.database.read_bytes() == before
    for command in ("backup", "export", "import"):
        assert "newer carewatch" in newer.refused(command, str(tmp_path / "target"), code=1)


def test_a_folder_that_cannot_be_written_is_named(own: OwnGarden, tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)

    assert "cannot be written" in own.refused("backup", str(closed / "copy.sqlite"), code=1)
    assert "cannot be written" in own.refused("export", str(closed), code=1)


def test_what_contradicts_the_log_of_the_files_is_told_at_import_and_kept(own: OwnGarden, tmp_path: Path) -> None:
    """A log that is not quite right must come back all the same: it is the only one there is."""
    out = tmp_path / "out"
    assert own.ran("export", str(out)).code == 0
    other = own_garden(tmp_path / "other")
    text = other.config.read_text(encoding="utf-8")
    other.config.write_text(
        text.replace('id = "elm"', 'id = "elm"\nsince = 2026-11-03', 1).replace("2026-10-31", "2026-11-04")
    )

    done = other.ran("import", str(out))

    assert done.code == 0
    assert "sever-layer of elm on 2026-11-02: elm came to the garden on 2026-11-03" in done.err
    assert [entry["work"] for entry in other.log("elm")] == ["sever-layer", "sacrifice"]
