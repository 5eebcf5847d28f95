"""How a story is tested: no rule broken, and word for word what was reviewed."""

import pytest

from tests.stories.account import told
from tests.stories.shelf import account_file, missing, story


def assert_as_kept(name: str) -> None:
    """Tell a story and hold it against its account."""
    if missing(name):
        pytest.skip(missing(name))
    found = told(story(name))
    assert not found.broken, "\n".join(found.broken)
    kept = account_file(name).read_text(encoding="utf-8")
    assert found.text == kept, f"{name} differs: read it with `python -m tests.stories {name}`, keep it with --write"
