"""An end that was told and not answered: the next danger is not met in the belief that the tree is still protected."""

import json
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from carewatch.alerts.danger import Notice
from carewatch.alerts.farewell import Known
from carewatch.daemon.unended import ENDS_TOLD, ends_told, remembered, unconfirmed
from tests.alerts.made import Watch, at, call

SINCE = at(14)
ON = {"layer": {"move:shed": SINCE}}
INSIDE = call(measure="move:shed", in_force=True, night=at(2, day=21))


def brought_back() -> tuple[Notice, ...]:
    """The message that a tree may come back from the shed."""
    watch = Watch()
    watch.look(at(13), call(measure="move:shed"))
    watch.answer("done")
    for hour in (9, 10, 11):
        watch.look(at(hour, day=6), known=Known(logged=ON))
    assert watch.spoken[-1].kind == "bring-back"
    return tuple(watch.spoken)


def test_before_the_next_danger_it_is_said_what_the_log_still_has() -> None:
    """Two weeks later a frost is near: by the log the tree is in the shed, and nobody would be asked for anything."""
    facts = {ENDS_TOLD: str(remembered(ends_told({}, brought_back(), ON))[ENDS_TOLD])}
    later = ends_told(facts, (), ON)
    assert unconfirmed([INSIDE], later, at(7, day=18)) == ()
    (said,) = unconfirmed([INSIDE], later, at(7, day=20))
    assert said == (
        "layer: frost tomorrow. By the log it stands in shed still, though since 6 Nov it need not. If it does not, "
        "say `carewatch log layer end move:shed`: you are then asked in time."
    )


@pytest.mark.parametrize(
    "logged",
    [{}, {"layer": {}}, {"layer": {"move:shed": at(9, day=9)}}],
    ids=["the tree is gone", "ended", "carried in anew since"],
)
def test_what_the_log_ended_or_began_anew_is_forgotten(logged: dict[str, dict[str, datetime]]) -> None:
    """Then there is nothing to doubt."""
    assert remembered(ends_told({}, brought_back(), logged)) == {ENDS_TOLD: None}
    assert unconfirmed([INSIDE], ends_told({}, brought_back(), logged), at(7, day=20)) == ()


def test_a_danger_that_is_under_way_or_asks_anyway_has_no_such_word() -> None:
    """Once is enough, and a call speaks for itself."""
    ends = ends_told({}, brought_back(), ON)
    assert unconfirmed([INSIDE], ends, at(7, day=21)) == ()
    assert unconfirmed([replace(INSIDE, in_force=False)], ends, at(7, day=20)) == ()
    assert unconfirmed([replace(INSIDE, measure="fleece")], ends, at(7, day=20)) == ()


def test_what_is_remembered_survives_a_look_without_a_log_and_a_broken_text() -> None:
    """Nothing is lost where nothing was judged; what cannot be read is nothing."""
    ends = ends_told({}, brought_back(), None)
    assert ends == {"layer": {"move:shed": at(11, day=6) - timedelta(hours=2)}}
    kept = json.loads(str(remembered(ends)[ENDS_TOLD]))
    assert list(kept) == ["layer"]
    for broken in ("[7", "[7]", '{"layer": 7}', '{"layer": {"move:shed": "yesterday"}}'):
        assert ends_told({ENDS_TOLD: broken}, (), ON) == {}
