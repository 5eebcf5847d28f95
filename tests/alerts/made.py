"""Calls, dangers and rules for tests of what is said, and a watch that plans again and again."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.plan import Plan, plan
from carewatch.care.garden import NoticeRules

BERLIN = ZoneInfo("Europe/Berlin")
RULES = NoticeRules(time(22), time(6, 30), time(7), 0.5, True, 20.0, (), 60)
NIGHT = datetime(2026, 11, 6, 2, tzinfo=BERLIN)
ACT_BY = datetime(2026, 11, 5, 15, 45, tzinfo=BERLIN)
NOBODY = Known()


def at(hour: int, minute: int = 0, day: int = 5) -> datetime:
    """A moment of early November."""
    return datetime(2026, 11, day, hour, minute, tzinfo=BERLIN)


def away(first: int, last: int) -> NoticeRules:
    """The rules with an absence, in days of November."""
    return replace(RULES, away=((date(2026, 11, first), date(2026, 11, last)),))


def call(
    name: str = "layer",
    severity: str = "Moderate",
    measure: str = "fleece",
    act_by: datetime = ACT_BY,
    in_force: bool = False,
    night: datetime = NIGHT,
    hazard: str = "frost",
    minutes: float = 5.0,
) -> TreeCall:
    """A frost night for one tree."""
    spell = SpellFacts(
        hazard=hazard,
        organ="leaves",
        starts=night,
        ends=night + timedelta(hours=6),
        peak_at=night + timedelta(hours=4),
        peak=-4.4,
        limit=-2.5,
        unit="°C",
        probability=0.9,
        damage=0.5,
        loss=0.15,
        loss_if=0.17,
        severity=severity,
        certainty="Likely",
    )
    return TreeCall(
        tree=name,
        place="lawn",
        layer=True,
        spells=(spell,),
        measure=measure,
        in_force=in_force,
        why="it helps",
        standing_loss=0.15,
        loss_with=0.03,
        minutes=minutes,
        act_by=act_by,
        undo_at=(night + timedelta(hours=7)).replace(hour=9, minute=30),
        harm="",
        caution="Do not hold covers in a gale.",
        rejected="",
        rejected_why="",
        gain=0.12,
        cost=0.08,
    )


class Watch:
    """Plans hour after hour, each on a newer forecast, and remembers what stands."""

    def __init__(self, rules: NoticeRules = RULES) -> None:
        self.standing: dict[str, Danger] = {}
        self.spoken: list[Notice] = []
        self.rules = rules

    def look(self, now: datetime, *calls: TreeCall, new_run: bool = True, known: Known = NOBODY) -> Plan:
        """The plan of one moment, taken over into what stands; a notice that was made before is not made again."""
        alive = [danger for danger in self.standing.values() if danger.state != "over"]
        planned = plan(calls, alive, self.spoken, self.rules, now, new_run, known)
        self.standing |= {danger.id: danger for danger in planned.dangers}
        known_keys = {notice.dedup for notice in self.spoken}
        self.spoken += [notice for notice in planned.notices if notice.dedup not in known_keys]
        return planned

    def answer(self, word: str) -> None:
        """The grower answers every line."""
        self.standing = {
            key: replace(danger, answer=word) if danger.spoken_at else danger for key, danger in self.standing.items()
        }


def kinds(notices: Sequence[Notice]) -> list[str]:
    """The kinds in order."""
    return [notice.kind for notice in notices]
