"""What many tests of the edges begin with."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.edges.watched import Watched, web_service


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    """Some trees of the demo's autumn garden, watched through a web service on this machine."""
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        yield watched
