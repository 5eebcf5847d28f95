"""`import FILE`: entries in the words of the garden file, all of them or none."""

from pathlib import Path

import pytest

from tests.edges.own_garden import OwnGarden, own_garden

GOOD = """
[[tree]]
id = "elm"

[[tree.work]]
work = "root-prune"
on = 2026-03-14
removed = 0.4

[[tree.work]]
work = "wire"
on = 2026-03-20
branch = "top"
gauge_mm = 2

[[tree]]
id = "pine"
work = [{ work = "observe", on = 2026-05-02T18:30:00, seen = "new-growth" }]
"""


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    return own_garden(tmp_path / "garden")


def written(tmp_path: Path, text: str) -> str:
    file = tmp_path / "notes.toml"
    file.write_text(text, encoding="utf-8")
    return str(file)


def test_entries_of_a_file_are_logged_once(own: OwnGarden, tmp_path: Path) -> None:
    file = written(tmp_path, GOOD)

    assert own.document("import", file, "--dry-run")["entries_new"] == 3
    assert not own.database.exists()
    done = own.document("import", file)
    again = own.document("import", file)

    assert (done["entries_new"], done["entries_known"]) == (3, 0)
    assert (again["entries_new"], again["entries_known"]) == (0, 3)
    assert [(entry["work"], entry["removed"], entry["gauge_mm"]) for entry in own.log("elm")] == [
        ("root-prune", 0.4, None),
        ("wire", None, 2.0),
    ]
    assert own.log("pine")[0]["at"] == "2026-05-02T18:30+02:00"


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        (GOOD.replace("0.4", "1.4"), 2, ["notes.toml, line 8: tree[elm].work[1].removed is out of range; found 1.4"]),
        (
            GOOD.replace('"elm"', '"elmo"').replace("2026-05-02T", "2027-05-02T").replace("branch", "brnch"),
            2,
            ["line 13: tree[elmo].work[2].brnch is not a known key", "work[1].on lies in the future"],
        ),
        (GOOD.replace('"elm"', '"elmo"'), 2, ["tree[elmo].id is no tree of the garden", "did you mean elm?"]),
        (
            GOOD + '[[tree]]\nid = "larch"\n[[tree.work]]\nwork = "observe"\non = 2026-01-02\nseen = "mature"\n',
            2,
            ["tree[larch].work[1].seen does not fit the season", "a bare tree as dormant"],
        ),
        (GOOD + "[site]\nlatitude = 5\n", 2, ["site is not a known key"]),
        (GOOD + GOOD, 2, ["is there twice"]),
        ("tree = 3", 2, ["tree is of the wrong kind"]),
        ("tree = [", 2, ["is no TOML"]),
        ('[[tree]]\nid = "elm"\n', 2, ["work is missing"]),
        (
            '[[tree]]\nid = "maple-layer-1"\n[[tree.work]]\nwork = "repot"\non = 2026-03-14\n',
            1,
            ["notes.toml line 3: repot of maple-layer-1 on 2026-03-14: it was severed", "Nothing was kept."],
        ),
    ],
)
def test_one_entry_that_is_wrong_is_named_and_none_is_kept(
    own: OwnGarden, tmp_path: Path, text: str, code: int, said: list[str]
) -> None:
    words = own.refused("import", written(tmp_path, text), code=code)

    for part in said:
        assert part in words
    assert own.log("elm") == own.log("pine") == []


def test_an_entry_that_the_log_has_otherwise_is_not_decided_by_the_program(own: OwnGarden, tmp_path: Path) -> None:
    assert own.ran("log", "elm", "root-prune", "--removed", "0.3", "--on", "2026-03-14").code == 0

    words = own.refused("import", written(tmp_path, GOOD), code=1)

    assert (
        "notes.toml line 5: root-prune of elm on 2026-03-14 is in the care log already (entry 1 of the database)"
        in words
    )
    assert len(own.log("elm")) == 1


def test_what_hardly_can_be_is_kept_and_told(own: OwnGarden, tmp_path: Path) -> None:
    text = '[[tree]]\nid = "elm"\n[[tree.work]]\nwork = "unwire"\non = 2026-03-14\n'

    done = own.ran("import", written(tmp_path, text))

    assert done.code == 0
    assert "warning: notes.toml line 3: unwire of elm on 2026-03-14: no wire was set before" in done.err


def test_a_configuration_is_refused_with_one_remark(own: OwnGarden) -> None:
    config = str(own.folder / "config.toml")

    words = own.refused("import", config, code=2)

    assert "is a key of a configuration, which is used where it is and never imported" in words
    assert "[[tree.work]] below it" in words
    assert "did you mean" not in words
    assert "1 problem;" in words


def test_a_key_that_a_file_of_entries_has_not_is_not_suggested_for_itself(own: OwnGarden, tmp_path: Path) -> None:
    words = own.refused(
        "import", written(tmp_path, GOOD.replace('id = "elm"', 'id = "elm"\nspecies = "Ulmus"')), code=2
    )

    assert "tree[elm].species is not a known key; accepted: one of: id, work" in words
    assert "did you mean" not in words
