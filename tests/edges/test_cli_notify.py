"""`notify test`: every channel is tried for real, each says what it answered, and no address is ever shown."""

import json
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import cast

import pytest

from tests.edges.own_garden import OwnGarden, own_garden

SECRET = "TKN-4f9a77c1"  # noqa: S105 - planted, to be looked for in what is printed


@dataclass
class Service:
    """A web service on this machine that answers with the status in the path, and what it was sent."""

    port: int = 0
    posts: list[tuple[str, str]] = field(default_factory=list)

    def channel(self, name: str, status: int, order: int = 1) -> str:
        """A channel to it, as it stands in the configuration."""
        address = f"json://127.0.0.1:{self.port}/{status}/{SECRET}"
        return f'\n[[notices.channel]]\nname = "{name}"\nurl = "{address}"\norder = {order}\n'


class _Handler(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        posted = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        cast("_Server", self.server).service.posts.append((self.path, posted["title"]))
        self.send_response(int(self.path.split("/")[1]))
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        pass


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    service: Service


@pytest.fixture
def service() -> Iterator[Service]:
    server = _Server(("127.0.0.1", 0), _Handler)
    server.service = Service(server.server_address[1])
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield server.service
    server.shutdown()
    thread.join()
    server.server_close()


def with_channels(folder: Path, *channels: str) -> OwnGarden:
    own = own_garden(folder)
    own.config.write_text(own.config.read_text(encoding="utf-8") + "".join(channels), encoding="utf-8")
    own.config.chmod(0o600)
    return own


def test_a_channel_that_works_says_so(tmp_path: Path, service: Service) -> None:
    own = with_channels(tmp_path, service.channel("phone", 200))

    done = own.ran("notify", "test")

    assert (done.code, done.out) == (0, "phone: sent. The service took it; see whether it has arrived.\n")
    assert [title for _, title in service.posts] == ["carewatch: test"]
    assert SECRET not in done.out + done.err
    assert not own.database.exists()


def test_one_that_fails_does_not_stop_the_others_and_shows_no_secret(tmp_path: Path, service: Service) -> None:
    own = with_channels(
        tmp_path, service.channel("post", 200, 3), service.channel("gate", 403, 1), service.channel("pager", 500, 2)
    )

    done = own.ran("notify", "test", "--json")

    assert done.code == 1
    rows = json.loads(done.out)["channels"]
    assert [(row["name"], row["ending"]) for row in rows] == [
        ("gate", "permanent"),
        ("pager", "transient"),
        ("post", "sent"),
    ]
    assert all(row["reason"] for row in rows[:2])
    assert "gate: not sent, something must be changed first:" in own.ran("notify", "test", "gate").out
    assert SECRET not in done.out + done.err


def test_only_the_named_channel_is_tried(tmp_path: Path, service: Service) -> None:
    own = with_channels(tmp_path, service.channel("phone", 200), service.channel("post", 500))

    assert own.ran("notify", "test", "phone").code == 0
    assert len(service.posts) == 1
    assert "There is no channel 'phon'. Did you mean phone?" in own.refused("notify", "test", "phon", code=2)


def test_a_dry_run_reads_the_addresses_and_sends_nothing(tmp_path: Path, service: Service) -> None:
    unreadable = f'\n[[notices.channel]]\nname = "post"\nurl = "nosuch://{SECRET}"\n'
    own = with_channels(tmp_path, service.channel("phone", 200), unreadable)

    done = own.ran("notify", "test", "--dry-run")

    assert done.code == 1
    assert "phone: the address can be read. Dry run: nothing was sent." in done.out
    assert "post: not sent, something must be changed first: channel post (nosuch://): apprise" in done.out
    assert SECRET not in done.out + done.err
    assert service.posts == []


def test_an_address_that_is_kept_elsewhere_and_missing_there_fails_alone(
    tmp_path: Path, service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("GARDEN_PHONE", raising=False)
    elsewhere = '\n[[notices.channel]]\nname = "phone"\nurl = "env:GARDEN_PHONE"\n'
    own = with_channels(tmp_path, elsewhere, service.channel("post", 200))

    missing = own.ran("notify", "test")
    assert missing.code == 1
    assert "the environment variable GARDEN_PHONE is not set, or is empty" in missing.out
    assert "post: sent." in missing.out

    monkeypatch.setenv("GARDEN_PHONE", f"json://127.0.0.1:{service.port}/200/{SECRET}")
    assert own.ran("notify", "test").code == 0
    assert len(service.posts) == 3


def test_a_garden_without_channels_is_told_how_to_add_one(tmp_path: Path) -> None:
    own = own_garden(tmp_path)

    words = own.refused("notify", "test", code=2)

    assert "No channel is configured" in words
    assert "[[notices.channel]]" in words
