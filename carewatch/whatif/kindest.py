"""
What if a work were done: season and log first, then every coming day through the engine, the kindest day first.

gates -> weeks after the forecast -> trial -> ranking
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.alerts.call import SpellFacts
from carewatch.assess import Assessment, Begun, Numbers, begin
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.care.work_rules import WorkRules
from carewatch.condition.lived import MOVE, Lived, Past
from carewatch.condition.now import Condition, condition_of
from carewatch.condition.stage import Stage, stage_of
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.record import PastDay
from carewatch.forecast.weather import Hours, Weather
from carewatch.limits.judge import HAZARDS, RESTS_ON
from carewatch.measures.apply import NEUTRAL_LAID, Laid
from carewatch.measures.in_force import naive_utc
from carewatch.measures.timing import acting_hours, clock_of, local_times
from carewatch.outcome import facts_of
from carewatch.whatif.almanac import almanac_of, history_ahead, up_to
from carewatch.whatif.climate import carried_on
from carewatch.whatif.gates import WORDS, Barrier, Gates, gates_of
from carewatch.whatif.said import LEAST_NAMED, everywhere, floors_of, headline, unfit, verdict, why_of
from carewatch.whatif.trial import Candidate, Trial, outcomes

# A work is judged over the weeks in which its limits are strictest: sun for three, frost on bent and wired wood for
# four (works.toml). [weeks]
WEEKS = 4
# Works are done at noon, and the night after must be foreseen. [h]
NOON = time(12)
LEAST_AHEAD = timedelta(hours=24)
# Days of the record that can serve as the weeks after the forecast: four years of them. [d]
RECORD_DAYS = 4 * 366 + 60
MOST_DAYS = 14


@dataclass(frozen=True)
class Day:
    """
    One coming day for the work.

    at: the hour of the work, at the site. barriers: why season or log bar it, none where they do not.
    unfit: why the weather of the day itself does not suit, or "". remark: what else must be said, or "".
    loss, without: expected over the weeks after it, with the work and without; None where it is barred. [0-1]
    verdict: a word for it; why: what makes it so. spells: the costliest first.
    rank: 1 for the kindest; None where it is barred.
    """

    at: datetime
    barriers: tuple[Barrier, ...]
    unfit: str
    remark: str
    loss: float | None
    without: float | None
    by_hazard: Mapping[str, float]
    verdict: str
    why: str
    spells: tuple[SpellFacts, ...]
    rank: int | None


@dataclass(frozen=True)
class Whatif:
    """
    The answer.

    basis: forecast, site and what was assumed, with no tree judged; condition: of the tree now. work: as asked for.
    barriers: why no coming day is right, none where some day is. opens: the first day that is, or None.
    days: the kindest first, then those that do not suit, then those that are barred, by date. told: the headline.
    every_day: sentences on what is serious whatever day is taken.
    afterwards: what stands for the weeks after the forecast, and its kind ("record", "usual", "forecast", or "").
    """

    basis: Assessment
    condition: Condition
    work: Entry
    barriers: tuple[Barrier, ...]
    opens: date | None
    days: tuple[Day, ...]
    told: str
    every_day: tuple[str, ...]
    weeks: int
    afterwards: str
    afterwards_kind: str


class NoDayAhead(Exception):
    """The forecast is too short for a day and the night after it; the message says how far it reaches."""


def what_if(
    garden: Garden,
    tree: Tree,
    work: Callable[[datetime], Entry],
    weather: Weather,
    numbers: Numbers,
    rules: WorkRules,
    record: Iterable[PastDay],
    now: datetime,
    aftercare: Sequence[str] = (),
    fresh_pot: bool = False,
) -> Whatif:
    """
    Season gates and stacking rules, then the coming days, the kindest first.

    tree: of the garden; work: the entry for one moment; weather: as known at `now`; record: hours of past days.
    now: aware. aftercare: measures that would be taken with the work ("shade-cloth", "move:shed").
    fresh_pot: the work gives the tree another pot than the one it stands in.

    Raises NoDayAhead.
    """
    zone = ZoneInfo(garden.site.time_zone)
    here = now.astimezone(zone)
    noons = _noons(weather.ahead, here)
    alone = _alone(garden, tree, aftercare, now)
    begun = begin(alone, weather, numbers, now)
    log = sorted(alone.log, key=lambda entry: entry.at)
    ahead = history_ahead(begun.history, _with_past(weather), naive_utc(now))
    condition_on = _Conditions(alone, tree, log, numbers, ahead).on
    almanac = almanac_of(alone, tree, log, ahead, here.date())
    gates = gates_of(alone, tree, work(noons[0]), log, rules, almanac, lambda day: condition_on(None, day).root_supply)
    clock = clock_of(weather.ahead.times, naive_utc(now), zone, garden.site.latitude, garden.site.longitude)
    basis = Assessment(
        garden=garden,
        weather=weather,
        now=now,
        clock=clock,
        places=begun.places,
        trees=(),
        detail=None,
        horizon={name: weather.known_until[RESTS_ON[name]] for name in HAZARDS},
        measures=numbers.measures,
        assumed=begun.assumed,
        checkpoint=begun.checkpoint,
    )
    name = WORDS[work(noons[0]).work]
    allowed = [at for at in noons if not gates.on(at.date())]
    if not allowed:
        barriers, opens = gates.on(noons[0].date()), gates.opens(noons[0].date())
        told = f"No coming day is right for {name}."
        return Whatif(basis, begun.states[0], work(noons[0]), barriers, opens, (), told, (), WEEKS, "", "")
    last = naive_utc(allowed[-1]) + np.timedelta64(WEEKS * 7, "D")
    weeks = carried_on(weather, last, record, begun.history, garden.site, now)
    trial = Trial(
        garden=alone,
        begun=begun,
        numbers=numbers,
        hours=weeks.hours,
        local=local_times(weeks.hours.times, zone),
        forecast=weeks.forecast,
        horizon=basis.horizon,
        condition_on=condition_on,
        now=now,
        aftercare=_aftercare(aftercare, weeks.hours, begun, numbers, garden, allowed[0]),
        fresh_pot=fresh_pot,
    )
    candidates = [_candidate(at, work(at), weeks.hours) for at in allowed]
    pairs = outcomes(trial, candidates)
    floors = floors_of([outcome for outcome, _ in pairs])
    ends, rain_known = weather.ahead.times[-1], weather.known_until["rain_mm"]
    rule = rules.day_of(work(noons[0]).work)
    judged = []
    for candidate, (outcome, without) in zip(candidates, pairs, strict=True):
        unsuited = unfit(rule, weather.ahead, clock.local, rain_known, naive_utc(candidate.at))
        judged.append(
            Day(
                at=candidate.at,
                barriers=(),
                unfit=unsuited,
                remark=gates.remark(almanac.index(candidate.at.date())),
                loss=outcome.loss,
                # A branch on its mother is no tree in a pot: there is nothing to compare with.
                without=None if fresh_pot else without.loss,
                by_hazard=outcome.by_hazard,
                verdict="unfit" if unsuited else verdict(outcome.loss),
                why=why_of(outcome, floors, ends, here),
                spells=tuple(facts_of(found.spell, found.in_leaf, zone) for found in outcome.found),
                rank=None,
            )
        )
    days = _ranked(judged, [_barred(at, gates) for at in noons if at not in allowed])
    fit = [(day.at, day.loss) for day in days if day.loss is not None and not day.unfit]
    anyway = next((day.without for day in days if day.loss is not None and not day.unfit), None)
    best = next(
        outcome for candidate, (outcome, _) in zip(candidates, pairs, strict=True) if candidate.at == days[0].at
    )
    return Whatif(
        basis=basis,
        condition=begun.states[0],
        work=work(noons[0]),
        barriers=(),
        opens=allowed[0].date(),
        days=days,
        told=headline(name, fit, WEEKS, here, anyway),
        every_day=tuple(everywhere(floors, best, ends, here)),
        weeks=WEEKS,
        afterwards=weeks.told,
        afterwards_kind=weeks.kind,
    )


def _noons(ahead: Hours, here: datetime) -> list[datetime]:
    """Noons at the site that are to come and whose night is foreseen. Raises NoDayAhead."""
    ends = ahead.times[-1]
    noons: list[datetime] = []
    for number in range(MOST_DAYS + 1):
        at = datetime.combine(here.date() + timedelta(days=number), NOON, here.tzinfo)
        if at > here and naive_utc(at + LEAST_AHEAD) <= ends and len(noons) < MOST_DAYS:
            noons.append(at)
    if not noons:
        raise NoDayAhead(
            f"The forecast ends at {str(ends)[:16].replace('T', ' ')} UTC: it holds no noon with a day after it, so no "
            "day can be judged. Fetch a new one, or choose an earlier time with --at."
        )
    return noons


def _alone(garden: Garden, tree: Tree, aftercare: Sequence[str], now: datetime) -> Garden:
    """The garden with one tree, what is known of it at `now`, and the places where it has stood."""
    log = tuple(entry for entry in garden.log if entry.tree == tree.id and entry.at <= now)
    measures = {*aftercare, *(str(entry.measure) for entry in log)}
    moved = {name.removeprefix(MOVE) for name in measures if name.startswith(MOVE)}
    used = {tree.place, *moved, *(entry.to for entry in log if entry.to)}
    winter = {name for name, place in garden.places.items() if place.enclosed}
    places = {name: place for name, place in garden.places.items() if name in used | winter}
    return replace(garden, trees=(tree,), log=log, places=places)


def _with_past(weather: Weather) -> Hours:
    """The last two days and what is foreseen, the air of the members' mean."""
    past, ahead = weather.past, weather.ahead
    air = [past.values["air_temp_c"][-48:, 0], ahead.values["air_temp_c"].mean(axis=1)]
    return Hours(np.concatenate([past.times[-48:], ahead.times]), {"air_temp_c": np.concatenate(air)[:, None]})


def _aftercare(
    names: Sequence[str], hours: Hours, begun: Begun, numbers: Numbers, garden: Garden, begins: datetime
) -> list[Laid]:
    """What is laid over the tree after the work, in the hours in which each measure is in place."""
    site, start = garden.site, naive_utc(begins)
    clock = clock_of(hours.times, start, ZoneInfo(site.time_zone), site.latitude, site.longitude)
    ids = [place.id for place in begun.places]
    laid = []
    for name in names:
        kind, _, place = name.partition(":")
        measure = numbers.measures[kind]
        laid.append(
            Laid(measure, acting_hours(clock, measure, start, None), ids.index(place) if place else NEUTRAL_LAID)
        )
    return laid


class _Conditions:
    """The tree on any day to come, as it stands or with a work added."""

    def __init__(self, garden: Garden, tree: Tree, log: Sequence[Entry], numbers: Numbers, ahead: DailyHistory) -> None:
        self.garden, self.tree, self.log, self.numbers, self.ahead = garden, tree, log, numbers, ahead
        self._seasons: dict[date, tuple[Lived, Stage]] = {}

    def on(self, entry: Entry | None, day: date) -> Condition:
        """
        The tree on a day.

        entry: a work of that day or before it; None: nothing is done. What it does not say of the season it shares with
        the tree as it stands: works move no stage.
        """
        if day not in self._seasons:
            lived = Past(up_to(self.ahead, day), self.garden.places, self.garden.site.latitude).lived_by(
                self.tree.place, self.log
            )
            self._seasons[day] = lived, stage_of(self.tree.species, lived, self.log)
        lived, stage = self._seasons[day]
        log = self.log if entry is None else [*self.log, entry]
        return condition_of(self.tree, log, self.numbers.condition, lived, stage)


def _candidate(at: datetime, entry: Entry, hours: Hours) -> Candidate:
    stamp = naive_utc(at)
    first = int(np.searchsorted(hours.times, stamp, side="right"))
    last = int(np.searchsorted(hours.times, stamp + np.timedelta64(WEEKS * 7, "D"), side="right"))
    return Candidate(at, entry, first, last)


def _barred(at: datetime, gates: Gates) -> Day:
    barriers = gates.on(at.date())
    why = " ".join(barrier.why for barrier in barriers)
    return Day(at, barriers, "", "", None, None, {}, "barred", why, (), None)


def _ranked(judged: Sequence[Day], barred: Sequence[Day]) -> tuple[Day, ...]:
    """The kindest day first; of those whose losses hardly differ the sooner first; unfit ones after those that suit."""
    ordered: list[Day] = []
    for unsuited in (False, True):
        alike: list[Day] = []
        least = 0.0
        for day in sorted((day for day in judged if bool(day.unfit) == unsuited), key=_loss):
            if alike and _loss(day) - least >= LEAST_NAMED:
                ordered += sorted(alike, key=_at)
                alike = []
            least = least if alike else _loss(day)
            alike.append(day)
        ordered += sorted(alike, key=_at)
    ranked = [replace(day, rank=position) for position, day in enumerate(ordered, start=1)]
    return (*ranked, *sorted(barred, key=_at))


def _at(day: Day) -> datetime:
    return day.at


def _loss(day: Day) -> float:
    return 0.0 if day.loss is None else day.loss
