"""Secrets planted in the configuration, the environment and in what services answer show up nowhere."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from carewatch.sqlite.text_time import time_text
from tests.edges.watched import CALL, Watched, web_service

KEY, LOGIN, BEAT, PAGE = "K3Y-5f1e77aa", "grower:pa%2Fss%26word9", "B3AT-91c0de", "P4GE-hash-77"
PLANTED = (KEY, "pa/ss&word9", "pa%2Fss%26word9", BEAT, PAGE)


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    """The password is in the file, the heartbeat in the environment, the key in a file of its own."""
    with web_service() as web:
        watched = Watched(tmp_path, web)
        secrets = tmp_path / "secrets"
        secrets.mkdir()
        (secrets / "key").write_text(KEY)
        watched.plant(
            notices='heartbeat_url = "env:BEAT_URL"',
            weather='api_key = "file:secrets/key"',
            channels=watched.channel("phone", login=f"{LOGIN}@"),
            page=f'[page]\npassword = "{PAGE}"',
        )
        watched.environ["BEAT_URL"] = f"http://127.0.0.1:{web.port}/beat/{BEAT}"
        # The services repeat what they were told, as some do in error pages.
        web.said = " ".join(PLANTED)
        yield watched


def shown_in(garden: Watched, *texts: str) -> list[str]:
    """The planted secrets that stand in these texts or in any file but those in which they were planted."""
    kept = [garden.folder / name for name in ("config.toml", "secrets/key")]
    files = [path for path in garden.folder.rglob("*") if path.is_file() and path not in kept]
    assert any(path.suffix == ".sqlite" for path in files)
    content = [path.read_bytes() for path in files] + [text.encode() for text in texts]
    return [secret for secret in PLANTED if any(secret.encode() in each for each in content)]


def test_no_secret_shows_in_logs_output_or_database_when_everything_refuses(garden: Watched) -> None:
    garden.set_clock(CALL)
    told = garden.ran("once")
    garden.web.sink_status["phone"] = 400
    garden.web.weather_status = 400
    texts = [*told[1:]]
    for minutes, arguments in ((30, ("--json",)), (800, ())):
        garden.set_clock(CALL + timedelta(minutes=minutes))
        texts += garden.ran("once", *arguments)[1:]

    assert any(query.get("apikey") == [KEY] for query in garden.web.asked)
    assert garden.web.beats >= 1
    assert any(row.last_error for row in garden.rows())
    assert "out of order" in garden.facts()["poll.failed"]
    assert "blind" in [notice.kind for notice in garden.notices()]
    assert shown_in(garden, *texts) == []


def test_no_secret_shows_in_what_the_service_leaves(garden: Watched) -> None:
    garden.web.sink_status["phone"] = 400
    garden.set_clock(CALL)
    with garden.service({"PYTHONUNBUFFERED": "1"}) as service:
        service.looked_at(CALL)
        service.until(lambda: any(row.failed_at for row in garden.rows()), "a refusal")
        garden.web.weather_status = 400
        service.looked_at(CALL + timedelta(hours=2))
        assert service.stop() == 0

    assert garden.facts()["cycle.completed-at"] >= time_text(CALL + timedelta(hours=2))
    assert "***" in service.log.read_text()
    assert shown_in(garden) == []
