"""How a story is tested: no rule broken, and word for word what was reviewed."""

import pytest

from tests.stories.shelf import missing, story, transcript_file
from tests.stories.transcript import told


def assert_as_kept(name: str) -> None:
    """Tell a story and hold it against its transcript."""
    if missing(name):
        pytest.skip(missing(name))
    found = told(story(name))
    assert not found.broken, "\n".join(found.broken)
    kept = transcript_file(name).read_text(encoding="utf-8")
    assert found.text == kept, f"{name} differs: read it with `python -m tests.stories {name}`, keep it with --write"
