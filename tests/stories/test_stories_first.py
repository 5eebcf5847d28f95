"""Every second of the stories of every day, the first half: a file stays with its worker, and two share the work."""

import pytest

from tests.stories.shelf import DAILY
from tests.stories.telling import assert_as_kept


@pytest.mark.parametrize("name", DAILY[0::2])
def test_story(name: str) -> None:
    assert_as_kept(name)
