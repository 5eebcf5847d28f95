"""Ending what was said: a danger that faded is stood down, what was done for one that is over is brought back."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta

from carewatch.alerts.call import CLOTH, LEAST_LOSS, NO_DIFFERENCE, SpellFacts, TreeCall, least_loss
from carewatch.alerts.danger import OF_ITS_PLACE, Danger, Notice, NoticeLine
from carewatch.alerts.logged import Logged, still_on
from carewatch.alerts.messages import bring_back_message, stand_down_message
from carewatch.alerts.notices import made_notice
from carewatch.alerts.reached import Reached
from carewatch.alerts.timing import between, is_quiet
from carewatch.alerts.wording import ENDLESS, Message, is_night_cover
from carewatch.care.garden import NoticeRules
from carewatch.measures.catalogue import parts_of

# A danger must be gone in so many model runs before it is stood down (design; judged).
GONE_RUNS = 2
# A bring-back is said this long before the hour at which it may be done. Judged.
UNDO_NOTICE = timedelta(minutes=30)
# What may come off within this of each other is said once. Judged.
TOGETHER = timedelta(hours=2)
# With the next danger of the same kind nearer than this, what protects stays (common practice: out again after three
# nights without).
FOR_GOOD = timedelta(hours=72)
# What nobody answered or did so long after its hour nobody is about to do: there is nothing left to call off. Judged.
NOBODY_DOES_IT = timedelta(hours=12)
# An end that asks for nothing waits for the day's rounds, but not for ever. Judged.
WAITS_FOR_ROUNDS = timedelta(days=2)
# What the long clock wants of a tree it says with the rounds of a day: a layer that was carried is not called back
# before it has spoken since.
ASKS_DAILY = timedelta(days=1)
# Leaves that stood in a dark or glazed place for so long go out by stages (common practice).
LONG_INSIDE = timedelta(days=3)
# What one measure usually protects from.
OF_COLD = frozenset({"frost", "chill", "root-freeze", "heave"})
ALIKE = (
    OF_COLD,
    frozenset({"heat", "root-heat", "sun", "drying", "bark-scald"}),
    frozenset({"wind", "load"}),
    frozenset({"soak", "damp"}),
)
BANK, JACKET = "plunge", "insulate-pot"
# What stays until a day has passed without rain (common practice).
KEEP_DRY = ("rain-cover", "hold-water")
# In the morning night covers are called off from here on: half an hour before half past nine (common practice).
COVERS_OFF = time(9)


@dataclass(frozen=True)
class Known:
    """
    What the plan knows of the garden besides its calls.

    layers: trees that are severed layers in their first year. quarters: per tree, its place of this winter, or "plunge"
    or "insulate-pot" where its pot is banked or wrapped for the winter. shaded: trees whose shade the long clock wants
    up. reached: what became of earlier messages. dry_from: when a day will have passed without rain, None where it is
    dry. in_rounds: the day's rounds are told at this look. dark_from: today's sunset. logged: per tree, what the log
    says is in place and since when; None where the log was not asked. softened: trees that grew unused to the sun of
    their place.
    """

    layers: Collection[str] = ()
    quarters: Mapping[str, str] = field(default_factory=dict)
    shaded: Collection[str] = ()
    reached: Reached = field(default_factory=Reached)
    dry_from: datetime | None = None
    in_rounds: bool = False
    dark_from: datetime | None = None
    logged: Logged | None = None
    softened: Collection[str] = ()

    def stays(self, tree: str, measure: str) -> str:
        """The part of what was done for a tree that the winter plan wants anyway, or ""."""
        place = self.quarters.get(tree, "")
        if place and BANK in parts_of(measure):
            # Once banked it stays so for the winter, wherever the plan had it.
            return BANK
        wanted = place if place in (BANK, JACKET) else f"move:{place}"
        return wanted if place and wanted in parts_of(measure) else ""

    def hangs(self, tree: str, measure: str) -> str:
        """The cloth, if it was hung over a tree that the long clock wants in shade anyway, or ""."""
        return CLOTH if tree in self.shaded and CLOTH in parts_of(measure) else ""


@dataclass(frozen=True)
class Farewells:
    """
    What ends.

    dangers: as they are after this run. notices: each with the dangers as they stay if it is not sent. stays: of what
    is over and asks for nothing, as sentences for the day's rounds.
    """

    dangers: tuple[Danger, ...]
    notices: tuple[tuple[Notice, tuple[Danger, ...]], ...]
    stays: tuple[str, ...] = ()


def farewells(
    gone: Sequence[Danger],
    eased: Sequence[Danger],
    calls: Sequence[TreeCall],
    now: datetime,
    rules: NoticeRules,
    new_run: bool,
    known: Known,
    settled: Collection[str] = (),
    seen: Sequence[Danger] = (),
) -> Farewells:
    """
    Dangers as they are after this run, and the farewells.

    gone: dangers that this run no longer sees. eased: those that it sees and for which, before their act-by, no measure
    is worth its work any more. settled: ids of dangers of which it was said, when they were told, that what was asked
    for stays. seen: all that it sees.
    """
    kept: list[Danger] = []
    down: list[Danger] = []
    back: list[Danger] = []
    needed = {(call.tree, part) for call in calls if call.holds for part in parts_of(call.measure)}
    # Who must still do something for a tree is not told to leave it as it is.
    wanted = {call.tree for call in calls if call.measure and not call.in_force}
    missed = [replace(danger, below_runs=danger.below_runs + new_run) for danger in gone]
    waiting = [danger for danger in missed if not _may_come_off(danger, now)]
    # What was done for two dangers ends with the last of them, unless it does harm by then.
    harmed = {(call.tree, spell.hazard) for call in calls for spell in call.spells if spell.spared < -LEAST_LOSS}
    near = [danger for danger in seen if between(now, danger.starts) < FOR_GOOD]
    waiting += [danger for danger in near if (danger.tree, danger.hazard) not in harmed]
    needed |= {
        (danger.tree, part)
        for danger in waiting
        if _is_told(danger) and _is_done(danger)
        for part in parts_of(_done_for(danger))
    }
    # What may come off within two hours of each other is said once.
    soon = any(
        _is_told(d) and _is_done(d) and not _may_come_off(d, now) and _may_come_off(d, now + TOGETHER) for d in missed
    )
    for danger in missed:
        if now < danger.ends and danger.below_runs < GONE_RUNS:
            kept.append(danger)
        elif _ends_without_a_word(danger, known, settled, now):
            kept.append(replace(danger, state="over"))
        elif is_quiet(now, rules):
            # Farewells wait for the morning.
            kept.append(danger)
        elif _is_done(danger):
            waits = (
                _stays_on(danger, calls, needed, soon, now)
                or _rains_on(danger, known, now)
                or _may_winter_there(danger, known, now)
                or _is_dark(danger, known, rules, now)
            )
            (kept if waits else back).append(danger)
        elif now >= danger.starts:
            # It has come, for better or worse: there is nothing left to call off.
            kept.append(replace(danger, state="over"))
        else:
            (kept if danger.tree in wanted else down).append(danger)
    fading = [replace(danger, below_runs=danger.below_runs + new_run) for danger in eased]
    for danger in fading:
        called_off = danger.below_runs >= GONE_RUNS and not is_quiet(now, rules)
        (down if called_off else kept).append(danger)
    still_seen = {danger.id for danger in fading}
    ended = [_forgotten(danger) if danger.id in still_seen else replace(danger, state="over") for danger in down]
    brought = _brought_back(back, now, known) if back else Farewells((), ())
    off = []
    if down:
        lines = [NoticeLine(danger.id, danger.tree, danger.spoken_measure) for danger in down]
        off.append((_farewell("stand-down", stand_down_message(down), down, lines, now), tuple(down)))
    return Farewells((*kept, *ended, *brought.dangers), (*brought.notices, *off), brought.stays)


def _brought_back(back: Sequence[Danger], now: datetime, known: Known) -> Farewells:
    """What is over and was met: what has to be undone is a message, what asks for nothing rides in the rounds."""
    message, lines = _undoing(back, now, known)
    over = tuple(replace(danger, state="over") for danger in back)
    if lines:
        return Farewells(over, ((_farewell("bring-back", message, back, lines, now), tuple(back)),))
    if known.in_rounds:
        return Farewells(over, (), tuple(message.body.split("\n")))
    return Farewells(
        tuple(replace(danger, state="over") if _waited_long(danger, now) else danger for danger in back), ()
    )


def _waited_long(danger: Danger, now: datetime) -> bool:
    """Whether its end waited for the day's rounds long enough: they do not come."""
    ends = [danger.ends, *filter(None, [danger.undo_at])]
    return all(between(end, now) > WAITS_FOR_ROUNDS for end in ends)


def _undoing(back: Sequence[Danger], now: datetime, known: Known) -> tuple[Message, list[NoticeLine]]:
    """The words for what is over, and a line for each danger of which something has to be undone."""
    back = [still_on(danger, known.logged) for danger in back]
    long = {danger.tree for danger in back if danger.shade_days or _since(danger, now) >= LONG_INSIDE}
    long |= set(known.softened)
    done = {danger.tree: _done_for(danger) for danger in back}
    at_home = {tree: known.stays(tree, measure) or known.hangs(tree, measure) for tree, measure in done.items()}
    lines = [
        NoticeLine(danger.id, danger.tree, "+".join(left))
        for danger in back
        if (left := [part for part in parts_of(_done_for(danger)) if part not in (*ENDLESS, at_home[danger.tree])])
    ]
    return bring_back_message(back, known.layers, long, at_home, known.quarters), lines


def _forgotten(danger: Danger) -> Danger:
    """A danger that is still seen, after it was called off: should it firm up again, it is news again."""
    return replace(
        danger,
        state="foreseen",
        revision=danger.revision + 1,
        spoken_severity="",
        spoken_measure="",
        spoken_act_by=None,
        spoken_at=None,
        answer="",
        below_runs=0,
    )


def _is_told(danger: Danger) -> bool:
    """The grower knows of this danger: it was told, or they did something for it before they were asked."""
    return danger.spoken_at is not None or danger.answer == "done"


def _is_done(danger: Danger) -> bool:
    """What was asked for this danger is in place."""
    return danger.in_force or danger.answer == "done"


def _may_come_off(danger: Danger, now: datetime) -> bool:
    """The danger has been gone long enough, and the hour at which its measure may be undone has come."""
    if now < danger.ends and danger.below_runs < GONE_RUNS:
        return False
    return danger.undo_at is None or now >= danger.undo_at - UNDO_NOTICE


def _stays_on(
    danger: Danger, calls: Sequence[TreeCall], needed: Collection[tuple[str, str]], soon: bool, now: datetime
) -> bool:
    """
    Whether what was done for a danger that is gone has to wait.

    needed: trees and what of theirs another danger needs. soon: others will be told of soon.
    A tree comes out once, when the last danger that it was put away for is over for good. Night covers come off at
    their hour, in company or alone: under them the morning sun cooks leaves. All else waits for company, and for the
    end that is in sight by now.
    """
    cover = is_night_cover(_done_for(danger))
    longer = now < off_from(now) if cover else soon or _ends_later(danger, calls, now)
    held = any((danger.tree, part) in needed for part in parts_of(_done_for(danger)))
    return longer or held or _comes_again(danger, calls, now)


def _rains_on(danger: Danger, known: Known, now: datetime) -> bool:
    """Whether what keeps the rain off stays: a wet spell goes on, though under the cover no harm of it is left."""
    against_rain = any(part in KEEP_DRY for part in parts_of(_done_for(danger)))
    return against_rain and known.dry_from is not None and between(now, known.dry_from) > UNDO_NOTICE


def _may_winter_there(danger: Danger, known: Known, now: datetime) -> bool:
    """Whether a layer that was carried waits for the long clock to say if it winters there: it is carried once."""
    carried = any(part.startswith("move:") for part in parts_of(_done_for(danger)))
    return carried and danger.tree in known.layers and _since(danger, now) < ASKS_DAILY


def _is_dark(danger: Danger, known: Known, rules: NoticeRules, now: datetime) -> bool:
    """Whether a tree would have to be carried out in the dark of a garden without lights: it waits for the day."""
    carried = any(part.startswith("move:") for part in parts_of(_done_for(danger)))
    return (
        carried and rules.unlit_garden and known.dark_from is not None and between(known.dark_from, now) >= timedelta(0)
    )


def _ends_without_a_word(danger: Danger, known: Known, settled: Collection[str], now: datetime) -> bool:
    """Whether nothing has to be said when it is gone: unheard, refused, not done, nothing to undo, or to be left."""
    if not _is_told(danger) or (danger.answer == "skip" and not danger.in_force):
        return True
    if not _is_done(danger):
        return danger.spoken_act_by is not None and between(danger.spoken_act_by, now) > NOBODY_DOES_IT
    parts = parts_of(_done_for(danger))
    # What was poured or tied needs no undoing; what was told to stay in its winter place, or to hang on, stays.
    at_home = known.stays(danger.tree, _done_for(danger)) or known.hangs(danger.tree, _done_for(danger))
    stays = danger.id in settled and all(part in (*ENDLESS, at_home) for part in parts)
    left_it = danger.hazard in OF_ITS_PLACE and all(part.startswith("move:") for part in parts)
    return stays or left_it or all(part in ENDLESS for part in parts)


def off_from(moment: datetime) -> datetime:
    """The moment, or on a morning the hour from which night covers are called off. moment: in the site's zone."""
    return max(moment, datetime.combine(moment.date(), COVERS_OFF, tzinfo=moment.tzinfo))


def _ends_later(danger: Danger, calls: Sequence[TreeCall], now: datetime) -> bool:
    """Whether what is in force on the tree would by this run come off later only."""
    on = [call for call in calls if call.tree == danger.tree and call.in_force and call.undo_at is not None]
    # Under a cloth leaves grow softer: only what holds it puts its end off.
    ends = [call.undo_at for call in on if call.undo_at and (call.holds or parts_of(call.measure) != (CLOTH,))]
    return any(between(now, end) > UNDO_NOTICE for end in ends)


def kinds_like(hazard: str) -> frozenset[str]:
    """The hazards against which one measure usually protects, this one among them."""
    return next((kinds for kinds in ALIKE if hazard in kinds), frozenset({hazard}))


def _comes_again(danger: Danger, calls: Sequence[TreeCall], now: datetime) -> bool:
    """Whether the tree meets a danger of the same kind again in the next nights."""
    alike = kinds_like(danger.hazard)
    return any(
        call.tree == danger.tree
        and (spell.hazard in alike or _of_frozen_roots(danger, spell))
        and spell.loss >= least_loss(spell, _done_for(danger))
        and between(now, spell.starts) < FOR_GOOD
        for call in calls
        for spell in call.spells
    )


def _of_frozen_roots(danger: Danger, spell: SpellFacts) -> bool:
    """
    Whether leaves that dry over frozen roots are one of danger and spell, and cold is the other.

    By its hazard that is dry weather; by what makes it and what helps, it is of the cold: what was done for the one
    stays for the other, until the tree would drink where it belongs. Where it would thaw sooner outside, it goes out.
    """
    dries, cold = spell.frozen, danger.hazard in OF_COLD
    if danger.hazard == "drying" and parts_of(_done_for(danger)) != (CLOTH,):
        dries, cold = True, spell.hazard in OF_COLD
    return dries and cold and spell.spared > NO_DIFFERENCE


def _since(danger: Danger, now: datetime) -> timedelta:
    return timedelta(0) if danger.spoken_at is None else between(danger.spoken_at, now)


def _done_for(danger: Danger) -> str:
    """What was asked for and done."""
    return danger.spoken_measure or danger.measure


def _farewell(
    kind: str, message: Message, dangers: Sequence[Danger], lines: Sequence[NoticeLine], now: datetime
) -> Notice:
    key = f"{kind}:" + ",".join(sorted(f"{danger.id}:{danger.revision}" for danger in dangers))
    return made_notice(kind, "Minor", message, now, now + timedelta(hours=24), key, tuple(lines))
