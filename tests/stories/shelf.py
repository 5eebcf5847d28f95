"""Where stories stand: each is a module of `scenarios` with one STORY, its account a file of `told`."""

import importlib
import pkgutil
from dataclasses import replace
from pathlib import Path
from types import ModuleType

from tests.stories import scenarios
from tests.stories.story import Story

TOLD = Path(__file__).parent / "told"
# Told with the other tests; all of them are told by `python -m tests.stories --check`, a stage of .ci/run. One each of
# peace, a hot day, and what only the grower can see.
DAILY = ("colouring_in_peace", "hot_day_in_may", "leaf_question")


def names() -> tuple[str, ...]:
    """The names of all stories."""
    return tuple(sorted(found.name for found in pkgutil.iter_modules(scenarios.__path__)))


def missing(name: str) -> str:
    """Why a story cannot be told here, or "": its module has then a MISSING instead of a STORY."""
    return str(getattr(_module(name), "MISSING", ""))


def story(name: str) -> Story:
    """The story of a name; a module may say what else must hold of its messages in a function `holds`."""
    module = _module(name)
    found = module.STORY
    assert isinstance(found, Story)
    if hasattr(module, "holds"):
        return replace(found, also=lambda watch, _: module.holds(watch.messages))
    return found


def account_file(name: str) -> Path:
    """Where its account is kept."""
    return TOLD / f"{name}.txt"


def _module(name: str) -> ModuleType:
    return importlib.import_module(f"{scenarios.__name__}.{name}")
