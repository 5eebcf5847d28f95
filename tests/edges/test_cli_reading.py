"""`reading`: what a thermometer showed is kept once, shown, corrected, and counts no more when it was wrong."""

from datetime import timedelta
from pathlib import Path

import pytest

from tests.edges.own_garden import NOW, OwnGarden, own_garden


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    return own_garden(tmp_path)


def test_a_reading_is_kept_once(own: OwnGarden) -> None:
    assert own.ran("reading", "lawn", "-3.5").out == "lawn: −3.5 °C on 2026-11-05 at 12:30 is kept.\n"
    assert own.document("reading", "lawn", "−3,5 °C") == {
        "version": 1,
        "dry_run": False,
        "place": "lawn",
        "at": "2026-11-05T12:30+01:00",
        "value_c": -3.5,
        "new": False,
    }
    assert "has a reading of -3.5 °C" in own.refused("reading", "lawn", "4", code=1)
    assert own.document("reading", "lawn", "4", "--at", "2026-11-05T07:00")["new"]
    assert own.document("reading", "lawn", "5", "--on", "2026-11-05T08:00")["at"] == "2026-11-05T08:00+01:00"


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("lown", "3"), 2, "There is no place 'lown'. Did you mean lawn?"),
        (("lawn", "71"), 2, "−60 °C to 70 °C are accepted"),
        (("lawn", "nan"), 2, "−60 °C to 70 °C are accepted"),
        (("lawn", "mild"), 2, "'mild' is no temperature"),
        (("lawn", "3", "--at", "noon"), 2, "--at 'noon' is no time"),
        (("lawn", "3", "--at", "2026-11-05T13:00"), 1, "lies in the future"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(own: OwnGarden, arguments: tuple[str, ...], code: int, said: str) -> None:
    assert said in own.refused("reading", *arguments, code=code)


@pytest.mark.parametrize("written", ["-3,5", "−3,5", "-3.5", "-3,5°C"])
def test_a_reading_below_zero_may_have_a_decimal_comma(own: OwnGarden, written: str) -> None:
    assert own.document("reading", "lawn", written)["value_c"] == -3.5


def test_a_reading_is_corrected_and_struck_and_its_history_stays(own: OwnGarden) -> None:
    assert own.ran("reading", "lawn", "35", "--at", "2026-11-05T07:00").code == 0
    assert own.ran("reading", "lawn", "4").code == 0
    later = NOW + timedelta(minutes=5)

    corrected = own.document("reading", "lawn", "amend", "1", "3.5", at=later)["readings"]
    struck = own.ran("reading", "lawn", "strike", "2", at=later)

    assert [(reading["number"], reading["value_c"]) for reading in corrected] == [(3, 3.5)]
    assert "lawn: reading 2 is struck; it counts no more" in struck.out
    shown = own.ran("reading", "lawn", "show").out
    assert "lawn: 1 reading; 2 struck or corrected, to be seen with --all" in shown
    assert "2026-11-05 07:00  3.5 °C  [reading 3]" in shown
    everything = own.document("reading", "lawn", "show", "--all")["readings"]
    assert [(each["number"], each["value_c"], each["superseded_by"]) for each in everything] == [
        (1, 35.0, 3),
        (3, 3.5, None),
        (2, 4.0, None),
    ]
    assert own.document("reading", "lawn", "5", at=NOW)["new"]
    assert "was struck on 2026-11-05" in own.refused("reading", "lawn", "strike", "2", code=1)
    assert "nothing differs from reading 3" in own.ran("reading", "lawn", "amend", "3", "3.5").out
    assert own.document("reading", "lawn", "amend", "3", "--at", "2026-11-05T06:00")["readings"][0]["number"] == 5


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("lawn", "amend"), 2, "by its number"),
        (("lawn", "amend", "1"), 2, "Say what is right"),
        (("lawn", "amend", "1", "400"), 2, "no temperature of air"),
        (("lawn", "amend", "first", "3"), 2, "by its number; `carewatch reading lawn show` has it"),
        (("lawn", "amend", "9", "3"), 1, "lawn has no reading 9. It has 1."),
        (("bench", "strike", "1"), 1, "bench has no reading 1."),
        (("lawn", "strike"), 2, "by its number"),
        (("lawn", "strike", "1", "3"), 2, "takes nothing but a number"),
        (("lawn", "show", "1"), 2, "takes no further word"),
        (("lown", "show"), 2, "Did you mean lawn?"),
        (("lawn", "3", "4"), 2, "'4' is one word too many"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(
    own: OwnGarden, arguments: tuple[str, ...], code: int, said: str
) -> None:
    assert own.ran("reading", "lawn", "4").code == 0
    before = own.database.read_bytes()

    assert said in own.refused("reading", *arguments, code=code)
    assert own.ran("reading", "lawn", "strike", "1", "--dry-run").code == 0
    assert own.database.read_bytes() == before
