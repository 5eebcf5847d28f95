"""A refused configuration says what to write instead, comes with near names only, and says nothing twice."""

from datetime import time
from pathlib import Path

import pytest

from carewatch.config.load import load
from carewatch.config.problems import ConfigErrors, ConfigProblem, nearest_names, told_once
from carewatch.config.tables import load_tables
from carewatch.config.toml_hints import WHOLE
from tests.edges.test_config_problems import GOOD, NOW, changed, refused

TREE_KEYS = ("id", "kind", "species", "place", "worth", "height_cm", "crown_cm", "substrate", "since", "pot", "work")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("specis", ("species",)),
        ("Species", ("species",)),
        ("height", ("height_cm",)),
        ("pto", ("pot",)),
        ("sub", ("substrate",)),
        ("size", ()),
        ("colour", ()),
        ("sp", ()),
    ],
)
def test_only_a_near_name_is_suggested(written: str, meant: tuple[str, ...]) -> None:
    assert nearest_names(written, TREE_KEYS) == meant


def test_what_is_clearly_further_away_than_the_nearest_is_left_out() -> None:
    assert nearest_names("maple3", ("maple-3", "old-maple", "maple-14")) == ("maple-3",)
    assert nearest_names("maple-", ("maple-3", "maple-4")) == ("maple-3", "maple-4")


def test_what_is_accepted_is_written_out_once(tmp_path: Path) -> None:
    problems = refused(tmp_path, GOOD + 'size = 3\nage = 12\ncolour = "red"\n')
    lines = str(ConfigErrors(problems)).split("\n")

    assert [line.count("one of: id, kind, species") for line in lines] == [1, 0, 0]
    assert lines[1].endswith("tree[maple].age is not a known key; accepted: the same as for tree[maple].size")
    assert all("one of: id, kind, species" in problem.accepted for problem in problems)


def test_what_is_short_is_written_out_again() -> None:
    two = [ConfigProblem("c.toml", number, f"key-{number}", None, "true or false") for number in (1, 2)]

    assert all(line.endswith("accepted: true or false") for line in told_once(two))


@pytest.mark.parametrize(
    ("text", "line", "instead"),
    [
        (changed("52.4", "52,4"), 3, "with a point, not a comma"),
        (changed('kind = "bench"', "kind = bench"), 9, "text in quotes"),
        (changed('kind = "bench"', 'kind = "bench'), 9, "a quotation mark at both ends"),
        (changed("{ volume_l = 5 }", "{ volume_l = 5"), 14, "{ key = value, key = value } on one line"),
        (GOOD + "[tree]\n", 15, "[[tree]] in double brackets"),
        (GOOD + "[[tree.work]]\n[tree.work]\n", 16, "[[tree.work]] in double brackets"),
        (GOOD + "since = 1.3.2024\n", 15, "such as 2026-03-14"),
        (GOOD + "[notices]\nquiet_from = 22:00\n", 16, 'a time in quotes, such as "22:00"'),
        (GOOD + 'place = "bench"\n', 15, "each key and each [table] once"),
        (GOOD + "since 2024-03-01\n", 15, "key = value on each line"),
        (GOOD + "since = 2024-3-1\n", 15, WHOLE),
    ],
)
def test_a_slip_in_the_signs_is_told_with_what_to_write_instead(
    tmp_path: Path, text: str, line: int, instead: str
) -> None:
    (problem,) = refused(tmp_path, text)

    assert problem.line == line
    assert "is no TOML" in problem.what
    assert instead in problem.accepted


@pytest.mark.parametrize(
    ("text", "key", "accepted"),
    [
        (GOOD + '[[work]]\nwork = "repot"\n', "work", "[[tree.work]], below the [[tree]]"),
        (GOOD + "[pot]\nvolume_l = 3\n", "pot", "[tree.pot]"),
        (GOOD + '[[channel]]\nname = "phone"\n', "channel", "[[notices.channel]]"),
    ],
)
def test_what_belongs_to_a_table_above_it_is_told_where_it_belongs(
    tmp_path: Path, text: str, key: str, accepted: str
) -> None:
    (problem,) = refused(tmp_path, text)

    assert problem.key == key
    assert problem.what.startswith("stands below no ")
    assert accepted in problem.accepted


def test_an_early_hour_may_be_written_without_its_zero(tmp_path: Path) -> None:
    file = tmp_path / "config.toml"
    file.write_text(GOOD + '[notices]\nquiet_to = "6:45"\nrounds_at = "7:15"\n', encoding="utf-8")

    notices = load(file, {}, NOW, load_tables()).settings.notices

    assert (notices.quiet_to, notices.rounds_at) == (time(6, 45), time(7, 15))


def test_a_pot_as_a_text_is_answered_with_how_a_pot_is_written(tmp_path: Path) -> None:
    (problem,) = refused(tmp_path, changed("{ volume_l = 5 }", '"5 l terracotta"'))

    assert '{ volume_l = 3, material = "terracotta" }' in problem.accepted
