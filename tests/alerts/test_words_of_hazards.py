"""The words for cold above zero, night ice, scalded bark and fresh cuts."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.call import SpellFacts
from carewatch.alerts.reasons import reason
from carewatch.alerts.wording import hazard_name
from carewatch.limits.judge import UNITS

NOW = datetime(2026, 11, 20, 12, tzinfo=ZoneInfo("Europe/Berlin"))


def _spell(hazard: str, peak: float, limit: float, organ: str = "leaves") -> SpellFacts:
    night = NOW + timedelta(hours=18)
    return SpellFacts(
        hazard=hazard,
        organ=organ,
        starts=night,
        ends=night,
        peak_at=night,
        peak=peak,
        limit=limit,
        unit=UNITS[hazard],
        probability=0.8,
        damage=0.2,
        loss=0.1,
        loss_if=0.12,
        severity="Moderate",
        certainty="Likely",
    )


@pytest.mark.parametrize(
    ("spell", "name", "sentence"),
    [
        (
            _spell("chill", 118.0, 60.0),
            "cold",
            (
                "Cold nights add up for its leaves: by tomorrow about 6:00 they will have had about 2 times what they "
                "bear."
            ),
        ),
        (
            _spell("heave", 3.0, 0.99, "roots"),
            "night ice",
            (
                "Night ice would lift it: the top of its pot freezes 3 times by tomorrow about 6:00; it cannot bear "
                "that once."
            ),
        ),
        (
            _spell("heave", 3.0, 2.4, "roots"),
            "night ice",
            (
                "Night ice would lift it: the top of its pot freezes 3 times by tomorrow about 6:00; it bears that "
                "2 times."
            ),
        ),
        (
            _spell("bark-scald", 48.0, 45.0, "bark"),
            "scalded bark",
            "The sunny side of its bared stem reaches about 48 °C tomorrow about 6:00; such bark bears 45 °C.",
        ),
        (
            _spell("bark-scald", -12.0, -8.0, "bark"),
            "scalded bark",
            (
                "Its bared bark thaws in the sun and falls to about −12 °C tomorrow about 6:00; "
                "after a thaw it bears −8 °C."
            ),
        ),
        (
            _spell("frost", -9.0, -5.5, "fresh cuts"),
            "frost",
            "Its fresh cuts reach about −9 °C tomorrow about 6:00; it loses their rims below −5.5 °C.",
        ),
    ],
)
def test_each_is_said_in_one_plain_sentence(spell: SpellFacts, name: str, sentence: str) -> None:
    """With the peak, when, and what the tree bears."""
    assert hazard_name(spell) == name
    assert reason(spell, NOW, layer=False) == sentence


def test_cold_above_zero_is_never_called_frost() -> None:
    """A fig at 4 °C is cold."""
    assert "frost" not in hazard_name(_spell("chill", 118.0, 60.0))
