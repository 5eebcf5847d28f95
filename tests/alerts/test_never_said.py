"""What is never said, over every sentence that the wording can make: all measures, hazards, severities and kinds."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from carewatch.alerts.answering import consequence
from carewatch.alerts.away import absence_of, eve_lines
from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import ANSWERS, SEVERITIES, NoticeLine
from carewatch.alerts.farewell import Known
from carewatch.alerts.helper import helper_page, page_lines
from carewatch.alerts.messages import (
    blind_message,
    bring_back_message,
    call_message,
    repeat_message,
    sees_again_message,
    stand_down_message,
)
from carewatch.alerts.rounds import Begun, rounds_message, rounds_of
from carewatch.alerts.seasons import season_notice
from carewatch.alerts.wording import LONGEST, LONGEST_TITLE
from carewatch.limits.judge import HAZARDS, UNITS
from tests.alerts.made import BERLIN, RULES, Watch, at, away, call
from tests.alerts.test_seasons import task
from tests.condition.grown import TABLES

# The rules of speaking that the project gives itself: nobody knows that a tree dies or is saved, and nobody is sent
# where people get hurt.
NEVER = (
    r"will die",
    r"\bsafe\b",
    r"guarantee",
    r"protect your plants",
    r"\bensemble\b",
    r"\bmembers?\b",
    r"percentile|quantile",
    r"\d\.\d+ ?%",
    r"\btonight\b|water\w* (it |them )?(at dusk|in the evening)",
    r"warm water",
    r"into the warm",
    r"clear the snow",
    r"nothing to fear",
    r"you did not|you should have|too late",
    r"flame|heater",
    r"(?<!no )ladder",
    r"\bNone\b|\bnan\b|\binf\b",
    r"-\d",
    r"  (?! )\S.*  \S",
)
MEASURES = (*(name for name in TABLES.measures if name != "move"), "move:shed", "fleece+plunge", "move:shed+mulch")


def calls() -> Iterator[TreeCall]:
    """One call for every measure, hazard and severity; the measure's own row gives caution and harm."""
    for measure in MEASURES:
        row = TABLES.measures[measure.partition("+")[0].partition(":")[0]]
        for hazard in HAZARDS:
            for severity in SEVERITIES[1:]:
                made = call("maple", severity=severity, measure=measure, hazard=hazard)
                spell = replace(made.spells[0], unit=UNITS[hazard], peak_at=at(6, 40, day=6))
                yield replace(
                    made,
                    spells=(spell,),
                    caution=row.caution,
                    harm=row.harm,
                    rejected="move:frame",
                    rejected_why="a layer in its first year stands still, and in place enough is saved",
                    shade_days=3,
                )


def texts() -> Iterator[str]:
    """Everything that is said about these calls, on the way there and back."""
    now = at(13)
    for made in calls():
        yield call_message([made], now).body
        yield call_message([made, replace(made, tree="elm", layer=False)], now, {"maple"}, late=True).body
        yield repeat_message([made], now).body
        skipped = replace(made, measure="")
        yield rounds_message(rounds_of([made, replace(skipped, tree="elm")], (), (), RULES, now)).body
        yield rounds_message(rounds_of([made], (Begun("pine", "bench", made.measure, at(9)),), (), RULES, at(7))).body
        yield "\n".join(page_lines(helper_page([made], (), (), away(5, 8), at(7)), "Garden"))
        yield "\n".join(eve_lines([replace(made, act_by=at(15, day=6))], absence_of(at(7), away(6, 8)), now))
        watch = Watch()
        (danger, *_) = watch.look(now, made).dangers
        yield stand_down_message([danger]).body
        for layers in ((), ("maple",)):
            yield bring_back_message([danger], layers, {"maple"}).body
        line = NoticeLine(danger.id, "maple", made.measure)
        for kind in ("call", "bring-back"):
            for answer in ANSWERS[:3]:
                yield consequence(kind, line, answer, danger, (), (), "note", now, TABLES.condition.leaves).said
    yield blind_message(at(8), now, "the service did not answer").body
    yield sees_again_message(at(8), now).body
    for tasks in (
        [task("maple"), task("elm", about="shed")],
        [task(kind="spring-out", about="lawn", last=date(2026, 11, 9))],
    ):
        found = season_notice(tasks, (), 50.0, RULES, now)
        assert found is not None
        yield found[0].body


@pytest.fixture(scope="module")
def said() -> list[str]:
    return list(texts())


def test_it_is_never_said(said: list[str]) -> None:
    """Each rule against each text; there are thousands of them."""
    assert len(said) > 2000
    for rule in NEVER:
        found = [text for text in said if re.search(rule, text, re.IGNORECASE)]
        assert not found, f"{rule}: {found[0]}"


def test_the_rules_are_able_to_refuse() -> None:
    """Each planted sentence is caught by a rule."""
    for planted in (
        "Your maple will die.",
        "It is safe now.",
        "Likely (71.5 %).",
        "Water it tonight.",
        "From a stepladder: use the ladder.",
        "Clear the snow; clear the snow from the pots.",
        "It reaches -4 °C.",
        "9 of 10 members agree.",
    ):
        assert any(re.search(rule, planted, re.IGNORECASE) for rule in NEVER), planted


def test_a_first_year_layer_is_never_moved_in_other_words_than_once_level_and_tied(said: list[str]) -> None:
    """In every text in which a layer is to be carried."""
    carried = [text for text in said if re.search(r"[Cc]arry maple\b", text)]
    assert carried
    for text in carried:
        for deed in re.findall(r"[Cc]arry maple\b[^.]*", text):
            assert "once, level and tied" in deed or " and elm" in deed, deed


def test_messages_fit_and_their_first_line_gives_no_reason(said: list[str]) -> None:
    """One thousand characters; what to do and by when alone on the lock screen."""
    for text in said:
        assert len(text) <= LONGEST, text
    for made in calls():
        title = call_message([made], at(13)).title
        assert len(title) <= LONGEST_TITLE
        again = ", and again while it falls" if made.measure == "shake-off" else ""
        assert title.endswith("by 9:00 each day." if "ventilate" in made.measure else f"before 15:45{again}.")
        assert not re.search(r"°C|%|because|kWh|m/s", title), title


def test_the_reason_names_the_organ_and_not_the_air() -> None:
    """A forecast for two metres above a lawn is not what a leaf feels."""
    for made in calls():
        body = call_message([made], at(13)).body
        assert not re.search(r"\bair (reaches|falls|temperature)\b|at 2 m\b|forecast low", body), body


def test_weather_is_told_by_the_hour(said: list[str]) -> None:
    """Minutes of a frost are false precision; the time to act has them."""
    times = [
        (hour, text)
        for text in said
        if "you will be asked" not in text
        for hour in re.findall(r"(?:tomorrow|today|Nov) about (\d{1,2}:\d\d)", text)
    ]
    assert len(times) > 100
    for hour, text in times:
        assert hour.endswith(":00"), text


@pytest.mark.parametrize("hazard", ["frost", "chill"])
def test_cold_above_zero_is_never_called_frost(hazard: str) -> None:
    """In no message on the way there and back."""
    made = call("fig", hazard=hazard)
    spell = replace(made.spells[0], peak=5.0, limit=8.0, unit=UNITS[hazard])
    fig = replace(made, spells=(spell,), layer=False)
    watch = Watch()
    first = watch.look(at(13), fig)
    for minute in (20, 40):
        watch.look(at(13, minute))
    bodies = [notice.body for notice in watch.spoken]
    bodies.append(rounds_message(rounds_of([replace(fig, measure="")], (), (), RULES, at(7))).body)
    assert [notice.kind for notice in watch.spoken] == ["call", "stand-down"]
    assert first.notices
    for body in bodies:
        # "Frost or not" says of cold that it is not frost.
        assert "frost" not in body.lower().replace("frost or not", ""), body


def test_a_call_is_never_useless_before_it_is_made() -> None:
    """And a notice is for the trees that it names."""
    watch = Watch()
    known = Known()
    for made in list(calls())[:: len(HAZARDS)]:
        for notice in watch.look(at(13), made, known=known).notices:
            assert notice.useless_after > notice.created_at + timedelta(minutes=29)
            assert {line.tree for line in notice.lines} == {"maple"}
    assert datetime(2026, 11, 5, tzinfo=BERLIN).date() == date(2026, 11, 5)
