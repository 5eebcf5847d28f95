"""`log OLD sever-layer --new ID`: one tree becomes two, in the garden file and in the log, wholly or not at all."""

import os
import stat
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from carewatch.sqlite.care_log import StoredEntry, add
from carewatch.sqlite.database import Database
from tests.edges.own_garden import NOW, OwnGarden, own_garden

SEVERED = ("log", "old-maple", "sever-layer", "--roots", "fair", "--new", "maple-4", "--pot", "3 l terracotta")
HAND_WRITTEN = b"""# my garden, by hand\r
[[place]]   # under the roof\r
id = "porch"\r
kind = "wall"\r
\r
[[tree]]\r
id    = "hazel"      # from seed\r
species = 'Corylus'\r
place = "porch"\r
  [[tree.work]]\r
  work = "water"\r
  on   = 2026-10-01"""


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    return own_garden(tmp_path)


def garden_file(own: OwnGarden) -> Path:
    return own.folder / "garden.toml"


def test_the_layer_becomes_a_tree_with_its_severing_in_its_log_and_a_wound_on_the_old_one(own: OwnGarden) -> None:
    assert own.ran("log", "old-maple", "set-layer", "--branch", "low left", "--on", "2026-05-10").code == 0
    assert own.ran("log", "old-maple", "move", "--to", "lawn", "--on", "2026-10-01").code == 0

    done = own.document(*SEVERED, "--taken", "0.2", "--tied", "--paste", "--height", "40", "--note", "white roots")

    assert (done["new_tree"], done["garden_file"]) == ("maple-4", str(garden_file(own)))
    (severed,) = own.log("maple-4")
    assert (severed["work"], severed["roots"], severed["tied"], severed["paste"]) == (
        "sever-layer",
        "fair",
        True,
        False,
    )
    assert (severed["other_tree"], severed["note"]) == ("old-maple", "white roots")
    wound = own.log("old-maple")[-1]
    # The branch is the one on which the only layer had been set.
    assert (wound["work"], wound["branch"], wound["removed"]) == ("cut-off", "low left", 0.2)
    assert (wound["paste"], wound["other_tree"], wound["at"]) == (True, "maple-4", severed["at"])
    (tree,) = own.document("outlook", "maple-4")["trees"]
    assert (tree["species"], tree["place"]) == ("Acer palmatum", "lawn")
    assert tree["fragility"]["layer_in_first_year"]
    assert tree["fragility"]["root_supply"] < 0.5
    assert own.document("explain", "old-maple")["works"][-1]["work"] == "cut-off"
    assert 'pot = {volume_l = 3, material = "terracotta"}' in garden_file(own).read_text(encoding="utf-8")


def test_what_stood_in_the_garden_file_stands_there_to_the_last_sign(own: OwnGarden) -> None:
    garden_file(own).write_bytes(HAND_WRITTEN)
    garden_file(own).chmod(0o640)

    said = own.ran(*SEVERED, "--place", "porch")
    assert said.code == 0, said.err
    assert own.ran("log", "hazel", "sever-layer", "--roots", "dense", "--new", "hazel-2", "--pot", "20x15x9").code == 0

    written = garden_file(own).read_bytes()
    assert written.startswith(
        HAND_WRITTEN + b"\r\n\r\n# A layer of old-maple, severed on 2026-11-05; added by carewatch."
    )
    assert b"\n" not in written.replace(b"\r\n", b"")
    assert stat.S_IMODE(garden_file(own).stat().st_mode) == 0o640
    assert b"length_cm = 20, width_cm = 15, depth_cm = 9" in written
    assert own.document("outlook", "hazel-2")["trees"][0]["species"] == "Corylus"
    assert sorted(path.name for path in own.folder.iterdir() if "garden" in path.name) == ["garden.toml"]


def test_a_link_to_the_garden_file_stays_a_link_and_a_list_of_trees_a_list(own: OwnGarden, tmp_path: Path) -> None:
    real = tmp_path / "elsewhere" / "mine.toml"
    real.parent.mkdir()
    text = 'tree = [\n  # the eldest\n  {id = "hazel", species = "Corylus", place = "bench"},\n]\n'
    real.write_text(text, encoding="utf-8")
    garden_file(own).symlink_to(real)

    done = own.ran(*SEVERED)
    assert done.code == 0, done.err

    assert garden_file(own).is_symlink()
    assert "# the eldest" in real.read_text(encoding="utf-8")
    assert [tree["tree"] for tree in own.document("outlook")["trees"]][-2:] == ["hazel", "maple-4"]


def test_a_new_garden_file_is_as_private_as_the_configuration(own: OwnGarden) -> None:
    own.config.chmod(0o600)

    assert own.ran(*SEVERED).code == 0

    assert stat.S_IMODE(garden_file(own).stat().st_mode) == 0o600


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ("--new maple-layer-1 --pot 3", 2, ['--new is taken already; found "maple-layer-1"', "an id that no tree has"]),
        ("--new Maple_4 --pot 3", 2, ["--new is not a valid id", "did you mean maple-4?"]),
        ("--new maple-4", 2, ["--pot is missing", "its size in litres"]),
        ("--new maple-4 --pot big", 2, ['--pot has no size; found "big"']),
        ("--new maple-4 --pot 0", 2, ["--pot is out of range"]),
        ("--new maple-4 --pot 3;terracota", 2, ["neither a material nor a colour", "did you mean terracotta?"]),
        ("--new maple-4 --pot 3 --place shd", 2, ["--place is not a known place", "did you mean shed?"]),
        ("--new maple-4 --pot 3 --height tall", 2, ["--height is of the wrong kind"]),
        ("--new maple-4 --pot 3 --taken 1.4", 2, ["--taken is out of range", "over 0 and below 1"]),
        ("--new maple-4 --pot 3 --taken 1", 2, ["--taken leaves nothing of the tree"]),
        ("--new maple-4 --pot 3 --on 2027-01-01", 2, ["--on lies in the future", "1 problem;"]),
        ("--new M --place x", 2, ["--new is not", "--place is not", "--pot is missing", "3 problems"]),
        ("--pot 3", 2, ["log OLD sever-layer --new ID"]),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    own: OwnGarden, arguments: str, code: int, said: list[str]
) -> None:
    words = own.refused(
        "log",
        "old-maple",
        "sever-layer",
        "--roots",
        "fair",
        *[word.replace(";", " ") for word in arguments.split()],
        code=code,
    )

    for part in said:
        assert part in words
    assert not garden_file(own).exists()
    assert not own.database.exists() or own.log("old-maple") == []


def test_a_tree_in_whose_log_a_layer_was_set_is_not_taken_for_the_layer(own: OwnGarden) -> None:
    """Severed itself it would stand for a year as the weakest tree of the garden."""
    assert own.ran("log", "old-maple", "set-layer", "--branch", "top", "--on", "2026-05-10").code == 0

    words = own.refused("log", "old-maple", "sever-layer", "--roots", "fair", code=1)

    assert "say so with --new ID and --pot SIZE" in words
    assert "add --sure" in words
    assert own.ran("log", "old-maple", "sever-layer", "--roots", "fair", "--sure").code == 0


def test_a_dry_run_says_all_and_writes_nothing(own: OwnGarden) -> None:
    said = own.ran(*SEVERED, "--dry-run")

    assert said.code == 0
    assert "maple-4: would be added to" in said.out
    assert "Dry run: nothing was written." in said.out
    assert sorted(path.name for path in own.folder.iterdir()) == ["clock.txt", "cold-night.json", "config.toml"]


def test_what_is_severed_twice_or_named_like_a_tree_that_was_is_refused(own: OwnGarden) -> None:
    assert own.ran(*SEVERED).code == 0
    assert "--new is taken already" in own.refused(*SEVERED, code=2)

    garden_file(own).unlink()
    words = own.refused(*SEVERED, "--on", "2026-11-04", code=1)

    assert "1 entry of another maple-4" in words
    assert not garden_file(own).exists()


def test_what_lies_before_the_severing_belongs_to_the_old_tree(own: OwnGarden) -> None:
    assert own.ran(*SEVERED).code == 0

    words = own.refused("log", "maple-4", "wire", "--on", "2026-10-01", "--sure", code=1)

    assert "severed from its mother only on 2026-11-05" in words
    assert "a branch of old-maple: log it there" in words


def test_a_correction_of_one_half_points_to_the_other(own: OwnGarden) -> None:
    assert own.ran(*SEVERED).code == 0

    assert "Entry 2 of the database belongs to it (cut-off" in own.ran("log", "maple-4", "amend", "1", "--tied").out
    assert "Entry 3 of the database belongs to it (sever-layer" in own.ran("log", "old-maple", "strike", "2").out


@pytest.mark.parametrize("before", [None, HAND_WRITTEN])
def test_when_the_log_cannot_be_kept_the_garden_file_is_put_back(own: OwnGarden, before: bytes | None) -> None:
    """The disk is full at the last word of the database, when the garden file has taken its place."""
    if before is not None:
        garden_file(own).write_bytes(before)
    real, seen = Database.open, []

    def full(name: str) -> None:
        if name == "inside-transaction":
            seen.append(b"maple-4" in garden_file(own).read_bytes())
            raise OSError(28, "No space left on device")

    with patch("carewatch.cli.acting.Database.open", side_effect=lambda path, now: real(path, now, fault=full)):
        assert "no space left on device" in own.refused(*SEVERED, code=1)

    assert seen == [True]
    assert (garden_file(own).read_bytes() if garden_file(own).exists() else None) == before
    assert own.log("old-maple") == []


def test_a_garden_file_that_changed_meanwhile_is_left_alone(own: OwnGarden) -> None:
    """An editor saves in the moment in which the command is about to write."""

    def editor(*arguments: Any) -> StoredEntry:
        garden_file(own).write_text("# saved by an editor\n", encoding="utf-8")
        return add(*arguments)

    with patch("carewatch.cli.layer_command.add", side_effect=editor):
        words = own.refused(*SEVERED, code=2)

    assert "was changed meanwhile" in words
    assert garden_file(own).read_text(encoding="utf-8") == "# saved by an editor\n"
    assert own.log("old-maple") == []


def test_a_folder_that_cannot_be_written_is_named(own: OwnGarden) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere")
    own.folder.joinpath("clock.txt").write_text(NOW.isoformat(), encoding="utf-8")
    own.folder.chmod(0o500)
    try:
        assert "cannot be written" in own.refused(*SEVERED, code=1)
    finally:
        own.folder.chmod(0o700)


def test_the_new_tree_and_its_log_come_back_from_an_export(own: OwnGarden, tmp_path: Path) -> None:
    assert own.ran(*SEVERED, "--taken", "0.2").code == 0
    assert own.ran("log", "maple-4", "amend", "1", "--roots", "dense").code == 0
    assert own.ran("export", str(tmp_path / "out")).code == 0
    other = own_garden(tmp_path / "other")
    (other.folder / "garden.toml").write_bytes(garden_file(own).read_bytes())

    assert other.ran("import", str(tmp_path / "out")).code == 0

    assert other.ran("outlook", "--json").out == own.ran("outlook", "--json").out
    assert other.log("maple-4", "--all") == own.log("maple-4", "--all")
