"""The files of the configuration change while the service runs: taken in, or refused aloud with the old ones kept."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from carewatch.cli.health_command import state_of_health
from carewatch.config.load import Loaded, load
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.cycle import run_cycle
from carewatch.daemon.renewal import Renewal
from carewatch.daemon.wiring import Asked, built
from carewatch.sqlite.database import Database
from tests.edges.watched import CALL, MORNING, Watched, web_service

# Two in the afternoon in the garden.
SEVERED = ("log", "old-maple", "sever-layer", "--roots", "sparse", "--new", "maple-4", "--pot", "3 l plastic")
REFUSED = "garden.toml: a mistake, the change is not in force."
MENDED = "The garden's files are read again."


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        watched.set_clock(MORNING)
        yield watched


def trees_in_danger(garden: Watched) -> set[str]:
    with Database.open_for_reading(garden.database, CALL) as database, database.snapshot(CALL) as snapshot:
        return {row["tree"] for row in snapshot.execute("SELECT tree FROM danger WHERE state <> 'over'")}


def called_trees(garden: Watched) -> set[str]:
    return {line.tree for notice in garden.notices() if notice.kind == "call" for line in notice.lines}


def test_a_tree_that_a_command_adds_is_judged_by_the_running_service(garden: Watched) -> None:
    """Its first frost night is called in time, with the others', by the process that was there before it."""
    with garden.service() as service:
        service.looked_at(MORNING)
        assert garden.ran(*SEVERED)[0] == 0
        service.until(lambda: "in force: 4 trees; new: maple-4" in service.log.read_text(), "the new tree")
        # Green leaves in November, as layers often have, and therefore in danger.
        assert garden.ran("log", "maple-4", "observe", "mature")[0] == 0
        service.looked_at(CALL)
        service.until(garden.web.titles, "the call")
        assert service.stop() == 0

    assert trees_in_danger(garden) == {"maple-layer-1", "maple-4"}
    assert "Traceback" not in service.log.read_text()


def test_spoilt_files_leave_the_old_garden_watched_and_are_told_once_and_so_is_their_mending(garden: Watched) -> None:
    added = garden.folder / "garden.toml"
    spoilt = '[[tree]]\nid = "hazel"\nspecies = "Corylus"\nplace = "lwan"\npot = { volume_l = 3 }\n'
    with garden.service() as service:
        service.looked_at(MORNING)
        added.write_text(spoilt)
        service.until(lambda: REFUSED in garden.web.titles(), "a word on the mistake")
        told = next(post["message"] for post in garden.web.posts if post["title"] == REFUSED)
        code, said, _ = garden.ran("health")
        assert code == 0
        assert "garden.toml, line 4: tree[hazel].place" in said
        # Another mistake while the first one stands is not another message.
        added.write_text(spoilt.replace("hazel", "Hazel!"))
        service.until(lambda: "line 2: tree[1].id" in garden.ran("health")[1], "the other mistake")
        service.looked_at(CALL)
        service.until(lambda: called_trees(garden), "the call")

        added.write_text(spoilt.replace("lwan", "lawn"))
        service.until(lambda: MENDED in garden.web.titles(), "a word on the mending")
        assert "not in force" not in garden.ran("health")[1]
        assert service.stop() == 0

    assert "3 trees are watched as before" in told
    assert "garden.toml, line 4: tree[hazel].place is not " in told
    assert 'found "lwan"' in told
    assert "did you mean lawn?" in told
    assert str(garden.folder) not in told
    assert called_trees(garden) == {"maple-layer-1"}
    kinds = [notice.kind for notice in garden.notices()]
    assert [kinds.count(kind) for kind in ("blind", "call", "sees-again")] == [1, 1, 1]
    assert "Traceback" not in service.log.read_text()


@contextmanager
def renewal(
    garden: Watched, settle: Callable[[float], object] = lambda _: None
) -> Iterator[tuple[Renewal, Callable[[datetime], bool]]]:
    """The program in this process, and a look at its files at a moment."""
    tables = load_tables()
    environ: dict[str, str] = {}

    def read(now: datetime) -> Loaded:
        return load(garden.config, environ, now, tables)

    asked = Asked(own_process=False, dry_run=False, fault=lambda _: None, stopping=lambda: False)
    with built(read(MORNING), tables, environ, Clock(MORNING), asked) as program:
        made = Renewal(program, read, settle)
        yield made, lambda now: made.look(program.database, now)


def edit(garden: Watched, found: str, put: str) -> None:
    text = garden.config.read_text()
    assert found in text
    garden.config.write_text(text.replace(found, put))


def titles(garden: Watched) -> list[str]:
    return [notice.title for notice in garden.notices()]


def test_files_that_did_not_change_are_not_read_again(garden: Watched) -> None:
    with renewal(garden) as (made, look):
        before = made.program
        assert not look(MORNING)
        garden.config.write_bytes(garden.config.read_bytes())
        assert not look(MORNING)
        assert made.program is before


def test_a_file_that_is_still_being_written_is_left_until_it_is_whole(garden: Watched) -> None:
    """Emptied first and written then, as editors do: an empty garden must not come in force between the two."""
    added = garden.folder / "garden.toml"
    tree = '[[tree]]\nid = "hazel"\nspecies = "Corylus"\nplace = "lawn"\npot = { volume_l = 3 }\n'
    added.write_text(tree)
    with renewal(garden, lambda _: added.write_text(tree.replace("hazel", "filbert"))) as (made, look):
        added.write_text("")
        assert not look(MORNING)
        assert [each.id for each in made.program.loaded.garden.trees][-1] == "hazel"
        assert look(MORNING)
        assert [each.id for each in made.program.loaded.garden.trees][-1] == "filbert"
    assert titles(garden) == []


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda garden: (garden.folder / "garden.toml").unlink(), "garden.toml: the file is gone"),
        (lambda garden: garden.config.unlink(), "config.toml: the file does not exist"),
        (lambda garden: garden.config.write_text(garden.config.read_text().split("[[tree]]")[0]), "has none left"),
        (lambda garden: edit(garden, 'time_zone = "', 'time_zone = "Mars/'), "site.time_zone"),
        (lambda garden: edit(garden, '"json://', '"env:NO_SUCH" # "json://'), "NO_SUCH is not set"),
    ],
    ids=["garden file gone", "config file gone", "no tree left", "a wrong value", "a secret that is not there"],
)
def test_what_would_end_the_watch_is_refused(garden: Watched, spoil: Callable[[Watched], None], said: str) -> None:
    (garden.folder / "garden.toml").write_text("# nothing yet\n")
    with renewal(garden) as (made, look):
        assert not look(MORNING)
        spoil(garden)
        assert not look(MORNING)
        assert len(made.program.loaded.garden.trees) == 3
        assert said in garden.facts()["files.refused"]
        assert said in state_of_health({**garden.facts(), "cycle.completed-at": "2026-11-05T07:00:00Z"}, MORNING)[0]
    (notice,) = garden.notices()
    assert said in notice.body
    assert len(garden.rows()) == 1


def test_who_never_heard_of_a_mistake_does_not_hear_that_it_is_mended(garden: Watched) -> None:
    with renewal(garden) as (_, look):
        look(MORNING)
        edit(garden, "latitude = 50.3", "latitude = 900")
        assert not look(MORNING)
        edit(garden, "latitude = 900", "latitude = 50.3")
        assert look(MORNING + timedelta(minutes=1))
    assert len(titles(garden)) == 1
    assert [row.failure for row in garden.rows()] == ["withdrawn"]
    assert "files.refused" not in garden.facts()


def test_the_dangers_of_a_tree_that_goes_end_without_a_word(garden: Watched) -> None:
    """After the call: no stand-down, no bring-back, no repeat, on this day or the next ones."""
    garden.once(CALL)
    assert called_trees(garden) == {"maple-layer-1"}
    assert "maple-layer-1" in trees_in_danger(garden)
    told = len(garden.notices())
    text = garden.config.read_text()
    first = text.index('[[tree]]\nid = "maple-layer-1"')
    with renewal(garden) as (made, look):
        look(CALL)
        garden.config.write_text(text[:first] + text[text.index("[[tree]]\nid", first + 1) :])
        assert look(CALL + timedelta(minutes=30))
        for hours in (1, 3, 12, 26, 40):
            now = CALL + timedelta(hours=hours)
            run_cycle(made.program.parts, made.program.database, now, poll=True)
    about_dangers = ("call", "repeat", "worse", "stand-down", "bring-back")
    assert [notice.title for notice in garden.notices()[told:] if notice.kind in about_dangers] == []
    assert "maple-layer-1" not in trees_in_danger(garden)


def test_channels_rules_rhythm_and_source_follow_the_files_and_the_database_stays(garden: Watched) -> None:
    """What is only read at a start is said: in what the service remembers, and once to the person."""
    with renewal(garden) as (made, look):
        look(MORNING)
        sends = made.program.one_at_a_time
        edit(garden, 'name = "phone"', 'name = "desk"')
        edit(garden, 'path = "garden.sqlite"', 'path = "other.sqlite"')
        edit(garden, 'quiet_from = "22:00"', 'quiet_from = "21:00"')
        edit(garden, "[weather]\n", "[weather]\nrefresh_minutes = 30\n")
        assert look(MORNING)
        parts = made.program.parts
        assert [channel.name for channel in parts.channels] == ["desk"]
        assert parts.rhythm.refresh == timedelta(minutes=30)
        assert parts.garden.notices.quiet_from.hour == 21
        assert made.program.one_at_a_time is sends
        assert not (garden.folder / "other.sqlite").exists()
        facts = garden.facts()
        assert "storage.path" in facts["files.wait-for-start"]
        assert facts["service.refresh-minutes"] == "30"
        assert facts["poll.next-at"] == "2026-11-05T07:00:00Z"
        (row,) = garden.rows()
        assert row.channel == "desk"
        edit(garden, "refresh_minutes = 30", "refresh_minutes = 40")
        assert look(MORNING + timedelta(minutes=1))
        edit(garden, 'path = "other.sqlite"', 'path = "garden.sqlite"')
        assert look(MORNING + timedelta(minutes=2))
        assert "files.wait-for-start" not in garden.facts()
    assert titles(garden) == ["A changed setting waits for a new start of carewatch."]


def test_nothing_changes_while_a_message_is_under_way(garden: Watched) -> None:
    with renewal(garden) as (made, look):
        look(MORNING)
        edit(garden, 'name = "phone"', 'name = "desk"')
        with made.program.one_at_a_time:
            assert not look(MORNING)
        assert look(MORNING)


def test_a_secret_s_file_counts_among_the_files(garden: Watched) -> None:
    secret = garden.folder / "phone.url"
    secret.write_text(f"json://127.0.0.1:{garden.web.port}/to-phone\n")
    text = garden.config.read_text()
    garden.config.write_text(text.replace(f'"json://127.0.0.1:{garden.web.port}/to-phone"', '"file:phone.url"'))
    with renewal(garden) as (made, look):
        assert not look(MORNING)
        secret.write_text(f"json://127.0.0.1:{garden.web.port}/to-tablet\n")
        assert look(MORNING)
        assert made.program.delivery is not None
        assert made.program.parts.redact("to-phone and to-tablet") == "*** and ***"
        secret.unlink()
        assert not look(MORNING)
    assert "cannot be read" in garden.facts()["files.refused"]
