"""`log TREE amend` and `strike`: what was wrong is put right, is reckoned with no more, and stays to be seen."""

from datetime import timedelta
from pathlib import Path

import pytest

from tests.edges.own_garden import NOW, OwnGarden, own_garden

LATER = NOW + timedelta(minutes=10)


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    """A garden in which the juniper was severed, by the log, with sparse roots."""
    garden = own_garden(tmp_path)
    done = garden.ran(
        "log", "juniper", "sever-layer", "--roots", "sparse", "--on", "2026-11-01", "--note", "in a hurry"
    )
    assert done.code == 0, done.err
    return garden


def supply(own: OwnGarden, *arguments: str) -> float:
    """The root supply of the juniper, as the outlook has it a little later."""
    found: float = own.document("outlook", "juniper", *arguments, at=LATER)["trees"][0]["fragility"]["root_supply"]
    return found


def test_a_corrected_entry_is_reckoned_with_as_it_is_now_and_as_it_was_before(own: OwnGarden) -> None:
    before = supply(own)

    done = own.ran("log", "juniper", "amend", "1", "--roots", "dense", "--tied", at=LATER)

    assert done.code == 0, done.err
    assert (
        "entry 1 (sever-layer, roots sparse on 2026-11-01) is corrected by entry 2: sever-layer, roots dense"
        in done.out
    )
    assert supply(own) > before + 0.3
    # What was known before the correction is judged by what was known then.
    assert supply(own, "--at", "2026-11-05T12:35") == before
    (stands,) = own.log("juniper")
    assert (stands["number"], stands["roots"], stands["tied"], stands["note"]) == (2, "dense", True, "in a hurry")
    assert stands["at"].startswith("2026-11-01T12:00")


def test_the_log_shows_what_was_and_what_is(own: OwnGarden) -> None:
    assert own.ran("log", "juniper", "amend", "1", "--roots", "fair", at=LATER).code == 0
    assert own.ran("log", "juniper", "water").code == 0
    assert own.ran("log", "juniper", "strike", "3", at=LATER).code == 0

    shown = own.ran("log", "juniper").out
    everything = own.ran("log", "juniper", "--all").out

    assert "juniper: 1 entry; 2 struck or corrected, to be seen with --all" in shown
    assert "roots sparse" not in shown
    assert "roots sparse  “in a hurry”  [entry 1 of the database]  corrected 2026-11-05 by entry 2" in everything
    assert "roots fair  “in a hurry”  [entry 2 of the database]  corrects entry 1" in everything
    assert "water  [entry 3 of the database]  struck 2026-11-05" in everything
    rows = own.document("log", "juniper", "--all")["entries"]
    assert [(row["number"], row["superseded_by"], row["corrects"]) for row in rows] == [
        (1, 2, None),
        (2, None, 1),
        (3, None, None),
    ]


def test_a_struck_work_is_reckoned_with_no_more(own: OwnGarden) -> None:
    assert supply(own) < 0.3

    assert own.ran("log", "juniper", "strike", "1", at=LATER).code == 0

    assert supply(own) == 1.0


def test_options_are_taken_away_and_words_replaced(own: OwnGarden) -> None:
    assert own.ran("log", "juniper", "amend", "1", "--note", "", "--roots-worked").code == 0
    assert own.ran("log", "elm", "observe", "leaf-fall").code == 0
    assert own.ran("log", "elm", "amend", "3", "dormant", "--on", "2026-11-04").code == 0
    assert own.ran("log", "juniper", "amend", "2", "--no-roots-worked").code == 0

    (severed,) = own.log("juniper")
    assert (severed["note"], severed["roots_worked"]) == (None, False)
    (seen,) = own.log("elm")
    assert (seen["seen"], seen["at"]) == ("dormant", "2026-11-04T12:00+01:00")


def test_a_correction_that_changes_nothing_is_no_entry(own: OwnGarden) -> None:
    said = own.ran("log", "juniper", "amend", "1", "--roots", "sparse").out

    assert "nothing differs from entry 1" in said
    assert len(own.log("juniper", "--all")) == 1


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ("amend", 2, "Say what is right, by the options of the entry"),
        ("amend 1", 2, "Say what is right"),
        ("amend one --tied", 2, "by its number"),
        ("amend 7 --tied", 1, "juniper has no entry 7 in the database. It has 1."),
        ("amend 1 --roots many", 2, '--roots is not accepted; found "many"'),
        ("amend 1 --on 2027-01-01", 2, "--on lies in the future"),
        ("amend 1 --to shed", 2, "--to has no meaning with sever-layer"),
        ("amend 1 dormant", 2, "'dormant' is one word too many: entry 1 is sever-layer"),
        ("amend 1 --tied --new other", 2, "log amend takes no further options"),
        ("strike 1 --tied", 2, "log strike takes no further options"),
        ("strike 1 2", 2, "'2' is one word too many"),
    ],
)
def test_a_correction_that_cannot_be_is_refused_and_the_entry_stands(
    own: OwnGarden, arguments: str, code: int, said: str
) -> None:
    before = own.log("juniper", "--all")

    assert said in own.refused("log", "juniper", *arguments.split(), code=code)
    assert own.log("juniper", "--all") == before


def test_an_entry_of_a_file_is_corrected_there(own: OwnGarden) -> None:
    words = own.refused("log", "elm", "amend", "1", "colouring", code=1)

    assert "elm has no entry 1 in the database. Entries of the files are changed there." in words


def test_a_correction_may_not_double_another_entry(own: OwnGarden) -> None:
    assert own.ran("log", "juniper", "wire", "--branch", "top", "--on", "2026-11-02").code == 0
    assert own.ran("log", "juniper", "wire", "--branch", "low", "--on", "2026-11-02").code == 0

    words = own.refused("log", "juniper", "amend", "3", "--branch", "top", code=1)

    assert "already (entry 2 of the database)" in words
    assert [entry["number"] for entry in own.log("juniper")] == [1, 2, 3]


def test_a_change_that_leaves_another_entry_hanging_is_questioned(own: OwnGarden) -> None:
    """The wire that was taken off in June was set by the entry that is struck now."""
    for arguments in ("wire --branch top --on 2026-11-02", "unwire --branch top --on 2026-11-04"):
        assert own.ran("log", "juniper", *arguments.split()).code == 0

    for arguments in ("strike 2", "amend 2 --on 2026-11-05"):
        words = own.refused("log", "juniper", *arguments.split(), code=1)
        assert "unwire top of juniper on 2026-11-04: no wire was set on top before" in words
        assert "add --sure" in words
    assert own.ran("log", "juniper", "strike", "2", "--sure").code == 0


def test_a_dry_run_corrects_nothing(own: OwnGarden) -> None:
    before = own.database.read_bytes()

    assert "would be corrected" in own.ran("log", "juniper", "amend", "1", "--tied", "--dry-run").out
    assert "would be struck" in own.ran("log", "juniper", "strike", "1", "--dry-run").out
    assert own.database.read_bytes() == before
