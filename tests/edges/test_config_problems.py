"""A configuration with a mistake is refused in words that name file, line, key, what is accepted and what was meant."""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

from carewatch.config.load import find_config, load
from carewatch.config.problems import ConfigErrors, ConfigProblem
from carewatch.config.tables import load_tables

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
GOOD = """config_version = 1
[site]
latitude = 52.4
longitude = 13.1
elevation_m = 35
time_zone = "Europe/Berlin"
[[place]]
id = "bench"
kind = "bench"
[[tree]]
id = "maple"
species = "Acer palmatum"
place = "bench"
pot = { volume_l = 5 }
"""
GOOD_LINES = GOOD.count("\n")


def refused(folder: Path, text: str, environ: Mapping[str, str] | None = None) -> tuple[ConfigProblem, ...]:
    """The problems with which a configuration of this text is refused."""
    file = folder / "config.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigErrors) as caught:
        load(file, environ or {}, NOW, load_tables())
    return caught.value.problems


def changed(old: str, new: str) -> str:
    """A good configuration with one thing in it replaced."""
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)


# What stands there, and then the line and key that must be named, a part of what is accepted, and the nearest name.
MISTAKES = {
    "an unknown key": (
        changed("elevation_m = 35", "elevation = 35"),
        (5, "site.elevation", "elevation_m", "elevation_m"),
    ),
    "an unknown section": (GOOD + "[notice]\n", (GOOD_LINES + 1, "notice", "notices", "notices")),
    "an unknown key of an inline table": (
        changed("volume_l = 5", "volume = 5, volume_l = 5"),
        (14, "tree[maple].pot.volume", "volume_l", "volume_l"),
    ),
    "a latitude of 900": (changed("52.4", "900"), (3, "site.latitude", "-90 to 90", None)),
    "a latitude that is a truth value": (changed("52.4", "true"), (3, "site.latitude", "-90 to 90", None)),
    "a latitude that is not a number": (changed("52.4", "nan"), (3, "site.latitude", "-90 to 90", None)),
    "a longitude of 181": (changed("13.1", "181"), (4, "site.longitude", "-180 to 180", None)),
    "no longitude": (changed("longitude = 13.1\n", ""), (2, "site.longitude", "east positive", None)),
    "a time zone that does not exist": (
        changed("Europe/Berlin", "Europe/Berln"),
        (6, "site.time_zone", "IANA", "Europe/Berlin"),
    ),
    "a time zone that is only a town": (
        changed("Europe/Berlin", "Berlin"),
        (6, "site.time_zone", "IANA", "Europe/Berlin"),
    ),
    "a misspelt species": (
        changed("Acer palmatum", "Acer palmatom"),
        (12, "tree[maple].species", "botanical name", "Acer palmatum"),
    ),
    "a tree in an unknown place": (
        changed('place = "bench"', 'place = "bensh"'),
        (13, "tree[maple].place", "bench", "bench"),
    ),
    "a misspelt kind of place": (
        changed('kind = "bench"', 'kind = "cold frame"'),
        (9, "place[bench].kind", "cold-frame", "cold-frame"),
    ),
    "a tree that hides more sky without its leaves": (
        changed('kind = "bench"', 'kind = "bench"\nsky_view = 0.6\nsky_view_leafless = 0.3'),
        (7, "place[bench]", "not less than sky_view", None),
    ),
    "an id with a capital and a space": (
        changed('id = "maple"', 'id = "Old Maple"'),
        (11, "tree[1].id", "a-z, 0-9 and -", "old-maple"),
    ),
    "an id of 41 signs": (
        changed('id = "maple"', f'id = "{"m" * 41}"'),
        (11, "tree[1].id", "1 to 40", "m" * 40),
    ),
    "a pot of zero litres": (
        changed("volume_l = 5", "volume_l = 0"),
        (14, "tree[maple].pot.volume_l", "over 0", None),
    ),
    "a pot with a negative side": (
        changed("volume_l = 5", "length_cm = 20, width_cm = -20, depth_cm = 10"),
        (14, "tree[maple].pot.width_cm", "over 0", None),
    ),
    "a pot with one side only": (
        changed("volume_l = 5", "length_cm = 20"),
        (14, "tree[maple].pot", "length_cm, width_cm and depth_cm, or volume_l", None),
    ),
    "a pot without a size": (
        changed("volume_l = 5", 'material = "wood"'),
        (14, "tree[maple].pot", "or volume_l", None),
    ),
    "a pot that holds more than its sides make": (
        changed("volume_l = 5", "length_cm = 20, width_cm = 20, depth_cm = 10, volume_l = 40"),
        (14, "tree[maple].pot", "volume_l", None),
    ),
    "a misspelt material": (
        changed("volume_l = 5", 'volume_l = 5, material = "teracotta"'),
        (14, "tree[maple].pot.material", "terracotta", "terracotta"),
    ),
    "a misspelt colour": (
        changed("volume_l = 5", 'volume_l = 5, colour = "blak"'),
        (14, "tree[maple].pot.colour", "black", "black"),
    ),
    "a misspelt substrate": (
        GOOD + 'substrate = "pumise-mix"\n',
        (GOOD_LINES + 1, "tree[maple].substrate", "pumice-mix", "pumice-mix"),
    ),
    "a misspelt habit of watering": (
        GOOD + 'watering = "dayly"\n',
        (GOOD_LINES + 1, "tree[maple].watering", "every-3-days", "daily"),
    ),
    "an unknown standing measure": (
        GOOD + 'measures = [\n  "mulch",\n  "fleese",\n]\n',
        (GOOD_LINES + 3, "tree[maple].measures[2]", "fleece", "fleece"),
    ),
    "a negative height": (
        GOOD + "height_cm = -4\n",
        (GOOD_LINES + 1, "tree[maple].height_cm", "over 0", None),
    ),
    "a worth of zero": (GOOD + "worth = 0\n", (GOOD_LINES + 1, "tree[maple].worth", "over 0", None)),
    "a misspelt work": (
        GOOD + '[[tree.work]]\nwork = "root-prun"\non = 2026-03-01\n',
        (GOOD_LINES + 2, "tree[maple].work[1].work", "root-prune", "root-prune"),
    ),
    "a work in the future": (
        GOOD + '[[tree.work]]\nwork = "wire"\non = 2026-11-26\n',
        (GOOD_LINES + 3, "tree[maple].work[1].on", "not in the future", None),
    ),
    "a work one minute in the future, by the site's clock": (
        # Noon in UTC is 13:00 in Berlin in November.
        GOOD + '[[tree.work]]\nwork = "wire"\non = 2026-11-25T13:01:00\n',
        (GOOD_LINES + 3, "tree[maple].work[1].on", "not in the future", None),
    ),
    "a work of the year 206": (
        GOOD + '[[tree.work]]\nwork = "wire"\non = 0206-03-01\n',
        (GOOD_LINES + 3, "tree[maple].work[1].on", "a date", None),
    ),
    "a work whose date is a number": (
        GOOD + '[[tree.work]]\nwork = "wire"\non = 20260301\n',
        (GOOD_LINES + 3, "tree[maple].work[1].on", "a date", None),
    ),
    "a work whose day does not exist": (
        GOOD + '[[tree.work]]\nwork = "wire"\non = "2026-02-30"\n',
        (GOOD_LINES + 3, "tree[maple].work[1].on", "a date", None),
    ),
    "a severed layer without its roots": (
        GOOD + '[[tree.work]]\nwork = "sever-layer"\non = 2026-03-01\n',
        (GOOD_LINES + 1, "tree[maple].work[1].roots", "sparse", None),
    ),
    "a misspelt state of roots": (
        GOOD + '[[tree.work]]\nwork = "sever-layer"\non = 2026-03-01\nroots = "sparce"\n',
        (GOOD_LINES + 4, "tree[maple].work[1].roots", "sparse", "sparse"),
    ),
    "roots pruned by an unknown share": (
        GOOD + '[[tree.work]]\nwork = "root-prune"\non = 2026-03-01\n',
        (GOOD_LINES + 1, "tree[maple].work[1].removed", "a share", None),
    ),
    "a share in per cent": (
        GOOD + '[[tree.work]]\nwork = "root-prune"\non = 2026-03-01\nremoved = 30\n',
        (GOOD_LINES + 4, "tree[maple].work[1].removed", "such as 0.3", None),
    ),
    "all roots removed": (
        GOOD + '[[tree.work]]\nwork = "root-prune"\non = 2026-03-01\nremoved = 1.0\n',
        (GOOD_LINES + 4, "tree[maple].work[1].removed", "below 1", None),
    ),
    "a share of wiring": (
        GOOD + '[[tree.work]]\nwork = "wire"\non = 2026-03-01\nremoved = 0.5\n',
        (GOOD_LINES + 4, "tree[maple].work[1].removed", "root-prune", None),
    ),
    "a move to an unknown place": (
        GOOD + '[[tree.work]]\nwork = "move"\non = 2026-03-01\nto = "bensh"\n',
        (GOOD_LINES + 4, "tree[maple].work[1].to", "bench", "bench"),
    ),
    "a move to nowhere": (
        GOOD + '[[tree.work]]\nwork = "move"\non = 2026-03-01\n',
        (GOOD_LINES + 1, "tree[maple].work[1].to", "move needs it", None),
    ),
    "a misspelt observation": (
        GOOD + '[[tree.work]]\nwork = "observe"\non = 2026-03-01\nseen = "bud swell"\n',
        (GOOD_LINES + 4, "tree[maple].work[1].seen", "bud-swell", "bud-swell"),
    ),
    "an unknown measure that begins": (
        GOOD + '[[tree.work]]\nwork = "begin"\non = 2026-03-01\nmeasure = "fleese"\n',
        (GOOD_LINES + 4, "tree[maple].work[1].measure", "fleece", "fleece"),
    ),
    "a measure that moves to an unknown place": (
        GOOD + '[[tree.work]]\nwork = "begin"\non = 2026-03-01\nmeasure = "move:bensh"\n',
        (GOOD_LINES + 4, "tree[maple].work[1].measure", "move:", "move:bench"),
    ),
    "a double entry of the log": (
        GOOD + '[[tree.work]]\nwork = "wire"\non = 2026-03-01\n' * 2,
        (GOOD_LINES + 4, "tree[maple].work[2]", f"line {GOOD_LINES + 1}", None),
    ),
    "two trees of one id": (
        GOOD + '[[tree]]\nid = "maple"\nspecies = "Carpinus"\nplace = "bench"\n',
        (GOOD_LINES + 2, "tree[maple].id", "line 11", None),
    ),
    "two places of one id": (
        GOOD + '[[place]]\nid = "bench"\nkind = "shed"\n',
        (GOOD_LINES + 2, "place[bench].id", "line 8", None),
    ),
    "two channels of one name": (
        GOOD + '[[notices.channel]]\nname = "phone"\nurl = "env:PHONE"\n' * 2,
        (GOOD_LINES + 5, "notices.channel[phone].name", f"line {GOOD_LINES + 2}", None),
    ),
    "a channel's address that cannot be read": (
        GOOD + '[[notices.channel]]\nname = "phone"\nurl = "nonsense"\n',
        (GOOD_LINES + 3, "notices.channel[phone].url", "env:NAME", None),
    ),
    "a misspelt severity": (
        GOOD + '[[notices.channel]]\nname = "phone"\nurl = "env:PHONE"\nfrom_severity = "sever"\n',
        (GOOD_LINES + 4, "notices.channel[phone].from_severity", "moderate", "severe"),
    ),
    "days away that end before they begin": (
        GOOD + '[notices]\naway = [\n  ["2026-01-01", "2026-01-02"],\n  ["2026-07-14", "2026-07-01"],\n]\n',
        (GOOD_LINES + 4, "notices.away[2]", "first day before the last", None),
    ),
    "quiet hours of no length": (
        GOOD + '[notices]\nquiet_from = "22:00"\nquiet_to = 22:00:00\n',
        (GOOD_LINES + 3, "notices.quiet_to", "not the same as quiet_from", None),
    ),
    "quiet hours as a number": (
        GOOD + "[notices]\nquiet_from = 22\n",
        (GOOD_LINES + 2, "notices.quiet_from", "a local time", None),
    ),
    "a caution of 11": (
        GOOD + "[notices]\ncaution = 11\n",
        (GOOD_LINES + 2, "notices.caution", "0 (easy-going)", None),
    ),
    "a horizon above the zenith": (
        GOOD + '[[place]]\nid = "wall"\nkind = "wall"\nhorizon = [[90, 20],\n  [180, 95]]\n',
        (GOOD_LINES + 5, "place[wall].horizon[2]", "elevation 0 to 90", None),
    ),
    "a horizon of single numbers": (
        GOOD + '[[place]]\nid = "wall"\nkind = "wall"\nhorizon = [90]\n',
        (GOOD_LINES + 4, "place[wall].horizon[1]", "pairs [azimuth, elevation]", None),
    ),
    "a horizon with half a point": (
        GOOD + '[[place]]\nid = "wall"\nkind = "wall"\nhorizon = [[90]]\n',
        (GOOD_LINES + 4, "place[wall].horizon[1][2]", "pairs [azimuth, elevation]", None),
    ),
    "a horizon with an azimuth twice": (
        GOOD + '[[place]]\nid = "wall"\nkind = "wall"\nhorizon = [[90, 5], [90, 6]]\n',
        (GOOD_LINES + 4, "place[wall].horizon[2]", "only once", None),
    ),
    "a recording without its file": (
        GOOD + '[weather]\nsource = "recorded"\n',
        (GOOD_LINES + 1, "weather.file", "saved forecast", None),
    ),
    "a recording that is not there": (
        GOOD + '[weather]\nsource = "recorded"\nfile = "gone.json"\n',
        (GOOD_LINES + 3, "weather.file", "saved forecast", None),
    ),
    "a source that wants to know who asks": (
        GOOD + '[weather]\nsource = "met-norway"\n',
        (GOOD_LINES + 1, "weather.contact", "e-mail or web address", None),
    ),
    "a source that falls back on itself": (
        GOOD + '[weather]\nsource = "met-norway"\nfallback = "met-norway"\ncontact = "a@b.example"\n',
        (GOOD_LINES + 3, "weather.fallback", "another source", None),
    ),
    "an address that is none": (
        GOOD + '[weather]\nforecast_url = "api.example.org"\n',
        (GOOD_LINES + 2, "weather.forecast_url", "http(s)", None),
    ),
    "a page without a port": (
        GOOD + '[page]\nlisten = "127.0.0.1"\n',
        (GOOD_LINES + 2, "page.listen", "HOST:PORT", None),
    ),
    "a file of a newer form": (changed("config_version = 1", "config_version = 2"), (1, "config_version", "1", None)),
    "a file of an impossible form": (
        changed("config_version = 1", 'config_version = "1"'),
        (1, "config_version", "1", None),
    ),
    "a table that is a text": (GOOD.replace("[site]", "site = 5\n[stock]", 1), (2, "site", "[site]", None)),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_named_with_its_line_its_key_and_what_is_accepted(tmp_path: Path, mistake: str) -> None:
    text, (line, key, accepted, nearest) = MISTAKES[mistake]

    problems = [problem for problem in refused(tmp_path, text) if problem.key == key]

    assert len(problems) == 1
    (problem,) = problems
    assert (problem.file, problem.line) == (str(tmp_path / "config.toml"), line)
    assert accepted in problem.accepted
    assert nearest is None or problem.nearest[0] == nearest
    assert f"line {line}: {key} " in str(problem)


@pytest.mark.parametrize("mistake", [name for name in MISTAKES if name != "a table that is a text"])
def test_one_mistake_makes_one_problem(tmp_path: Path, mistake: str) -> None:
    """A person who corrects it is done; nothing follows from the mistake that would also be complained about."""
    text, _ = MISTAKES[mistake]

    assert len(refused(tmp_path, text)) == 1


def test_all_mistakes_of_both_files_and_of_the_environment_are_told_at_once_in_the_order_of_lines(
    tmp_path: Path,
) -> None:
    (tmp_path / "garden.toml").write_text('[[tree]]\nid = "elm"\nspecies = "Ulmuss"\nplace = "bench"\n')
    text = GOOD.replace("52.4", "900").replace("Europe/Berlin", "Europe/Berln") + 'watering = "dayly"\n'

    problems = refused(tmp_path, text, {"CAREWATCH_NOTICES__CAUTION": "2", "CAREWATCH_SITE__NAMES": "x"})

    assert [(problem.file.rsplit("/", 1)[-1], problem.line, problem.key) for problem in problems] == [
        ("config.toml", 3, "site.latitude"),
        ("config.toml", 6, "site.time_zone"),
        ("config.toml", GOOD_LINES + 1, "tree[maple].watering"),
        ("garden.toml", 3, "tree[elm].species"),
        ("environment variable CAREWATCH_NOTICES__CAUTION", None, "notices.caution"),
        ("environment variable CAREWATCH_SITE__NAMES", None, "the name"),
    ]


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"[site]\nlatitude = = 5\n", 2, "no TOML at column 12"),
        (b"[site]\nlatitude = 5\nlatitude = 6\n", 3, "no TOML"),
        (b'[site]\nname = "open\n', 2, "no TOML"),
        (b"[site]\nname = [1,\n2", 3, "no TOML at its end"),
        (b'[site]\nname = "B\xfcro"\n', 2, "not UTF-8"),
        ("[site]\nname = 'x'\n".encode("utf-16"), 1, "not UTF-8"),
    ],
)
def test_a_file_that_is_no_toml_is_refused_with_the_line(tmp_path: Path, content: bytes, line: int, words: str) -> None:
    file = tmp_path / "config.toml"
    file.write_bytes(content)

    with pytest.raises(ConfigErrors) as caught:
        load(file, {}, NOW, load_tables())

    (problem,) = caught.value.problems
    assert problem.line == line
    assert words in str(problem)


def test_a_file_that_is_missing_and_a_folder_are_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(ConfigErrors, match=r"gone\.toml: the file does not exist; .*carewatch config new"):
        load(tmp_path / "gone.toml", {}, NOW, load_tables())
    with pytest.raises(ConfigErrors, match="is a folder, not a file"):
        load(tmp_path, {}, NOW, load_tables())


def test_a_file_that_cannot_be_read_is_refused_in_words(tmp_path: Path) -> None:
    """A path through a file stands for every other refusal of the system; it also fails for root."""
    (tmp_path / "file").write_text("")

    with pytest.raises(ConfigErrors, match=r"the file cannot be read: Not a directory"):
        load(tmp_path / "file" / "config.toml", {}, NOW, load_tables())


def test_a_newer_form_is_refused_before_keys_that_only_it_knows(tmp_path: Path) -> None:
    text = changed("config_version = 1", "config_version = 2") + "\n[robots]\nweeding = true\n"

    (problem,) = refused(tmp_path, text)

    assert problem.found == "2"
    assert "a newer carewatch" in problem.accepted


def test_only_places_and_trees_may_stand_in_the_garden_file(tmp_path: Path) -> None:
    (tmp_path / "garden.toml").write_text('# note\n[notices]\ncaution = 1\n[[place]]\nid = "shed"\nkind = "shed"\n')

    (problem,) = refused(tmp_path, GOOD)

    assert (problem.file, problem.line, problem.key) == (str(tmp_path / "garden.toml"), 2, "notices")
    assert "[[place]] and [[tree]]" in problem.accepted


def test_an_id_that_stands_in_both_files_is_refused_and_names_both(tmp_path: Path) -> None:
    (tmp_path / "garden.toml").write_text('\n[[tree]]\nid = "maple"\nspecies = "Carpinus"\nplace = "bench"\n')

    (problem,) = refused(tmp_path, GOOD)

    assert (problem.file, problem.line) == (str(tmp_path / "garden.toml"), 3)
    assert f"{tmp_path / 'config.toml'}, line 11" in problem.accepted


def test_a_garden_file_that_cannot_be_parsed_is_refused_under_its_own_name(tmp_path: Path) -> None:
    (tmp_path / "garden.toml").write_text("[[tree]\n")

    (problem,) = refused(tmp_path, GOOD)

    assert (problem.file, problem.line) == (str(tmp_path / "garden.toml"), 1)


def test_when_no_configuration_is_found_the_places_that_were_looked_at_are_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    with pytest.raises(ConfigErrors) as caught:
        find_config(None, {"XDG_CONFIG_HOME": str(tmp_path / "xdg"), "HOME": str(tmp_path)})

    assert "config.toml was not found" in str(caught.value)
    assert str(tmp_path) in str(caught.value)
    assert "carewatch config new" in str(caught.value)
