"""What an entry of the care log means for its tree: plain sentences, from the numbers of the works table."""

from collections.abc import Iterable
from datetime import date, timedelta

from carewatch.alerts.answering import stands
from carewatch.alerts.wording import MONTHS, listed, number
from carewatch.care.log import Entry
from carewatch.care.planned import late_summer_after
from carewatch.care.tree import Tree
from carewatch.care.works import WorkEffect
from carewatch.condition.leaf_area import CUTS_WOOD
from carewatch.condition.leaves import Verdict, verdict
from carewatch.condition.numbers import ConditionNumbers, LeafNumbers
from carewatch.place.spot import Place

# What an entry opened longer ago is half closed; its numbers on the day would mislead.
LONG_AGO = timedelta(days=45)
STILL = timedelta(days=365)
# Trees keep their winter rest there: enclosed, and not heated.
WINTER_KINDS = ("cold-frame", "shed", "tunnel")
# Roots that were cut are not fed for so long (common practice: four to six weeks).
UNFED_AFTER = ("sever-layer", "root-prune", "repot", "lift")
UNFED_FOR = timedelta(weeks=6)
# Works whose supply is not that of the roots.
CARRIES = {
    "graft": "its union lets through about {} of the water that the crown asks for",
    "wire": "its wired branches get about {} of their water",
    "bend": "its bent branch gets about {} of its water",
}
# What an observation of the season says, in words.
SEASONS = {
    "bud-swell": "its buds swell",
    "leaf-out": "its leaves open",
    "mature": "its leaves are mature",
    "colouring": "its leaves colour",
    "leaf-fall": "its leaves have fallen",
    "dormant": "it rests",
}


def described(entry: Entry) -> str:
    """The work with its options, in a few words."""
    taken = entry.work in ("sacrifice", "cut-off")
    parts = [
        entry.work,
        entry.measure or "",
        f"{'of' if taken else 'on'} {entry.branch}" if entry.branch else "",
        _kin(entry),
        f"to {entry.to}" if entry.to else "",
        entry.seen or "",
    ]
    options = [
        f"roots {entry.roots}" if entry.roots else "",
        "roots worked" if entry.roots_worked else "",
        f"{number(entry.removed * 100)} % {'of the leaves' if entry.seen else 'removed'}" if entry.removed else "",
        "tied" if entry.tied else "",
        "paste" if entry.paste else "",
        f"{entry.gauge_mm:g} mm" if entry.gauge_mm is not None else "",
        "" if entry.due is None else f"until {entry.due}" if entry.work == "put-off" else f"to go by {entry.due}",
    ]
    return ", ".join([" ".join(filter(None, parts)), *filter(None, options)])


def _kin(entry: Entry) -> str:
    if entry.other_tree is None:
        return ""
    return f"from {entry.other_tree}" if entry.work == "sever-layer" else f"(now {entry.other_tree})"


def remark(entry: Entry, log: Iterable[Entry], latitude: float) -> str:
    """
    What the rest of the log adds to the meaning of an entry: a sentence, or "".

    log: entries of all trees. latitude: north positive. [°]
    """
    if entry.work == "sacrifice" and entry.branch:
        due = entry.due or late_summer_after(entry.at.date(), latitude)
        usual = "" if entry.due else ", late in the next summer, as is common practice"
        return f'It is planned to go by {_day(due)}{usual}; log cut-off --branch "{entry.branch}" when it is off.'
    if entry.work == "feed":
        worked = [
            other
            for other in log
            if other.tree == entry.tree
            and other.work in UNFED_AFTER
            and timedelta(0) <= entry.at - other.at < UNFED_FOR
        ]
        if worked:
            last = max(worked, key=lambda other: other.at)
            return (
                f"Common practice feeds nothing for four to six weeks after root work, and {last.work} was on "
                f"{_day(last.at.date())}: water it through and wait until {_day((last.at + UNFED_FOR).date())}."
            )
    return ""


def meaning(
    entry: Entry,
    effect: WorkEffect | None,
    tree: Tree,
    places: Iterable[Place],
    today: date,
    numbers: ConditionNumbers,
    sheds: bool,
) -> str:
    """
    One or two sentences: what is known of the tree from now on.

    effect: the row of the works table, None for mere notes. today: at the site. sheds: leaves that fall that day are
    shed and not lost.
    """
    strength = None if effect is None else _strength(entry, effect)
    if effect is None or not strength:
        return _seen(entry, tree, numbers, sheds) if entry.work == "observe" else _note(entry, tree, numbers)
    if today - entry.at.date() > LONG_AGO:
        return f"What is left of it today stands in `carewatch explain {tree.id}`."
    if entry.work == "sever-layer":
        return _layer(entry, effect, tree, places)
    return f"From now on {strength}."


def _strength(entry: Entry, effect: WorkEffect) -> str:
    """What the work left and what the tree bears now, or "" for a work that changes neither."""
    left = []
    if effect.root_supply < 1:
        what = CARRIES.get(entry.work, "its roots feed about {} of the crown")
        left.append(what.format(_share(effect.root_supply)))
    if effect.anchorage < 1:
        left.append(f"hold it at {_share(effect.anchorage)} of full strength")
    if effect.leaf_area < 0.05:
        left.append("it has no leaves and drinks next to nothing")
    elif effect.leaf_area < 1:
        left.append(f"it keeps {_share(effect.leaf_area)} of its leaves and drinks accordingly less")
    limits = ", ".join(filter(None, (_sun(effect), _gusts(entry, effect), _frost(effect))))
    return ": ".join(filter(None, (" and ".join(left), limits)))


def _layer(entry: Entry, effect: WorkEffect, tree: Tree, places: Iterable[Place]) -> str:
    still = entry.at.date() + STILL
    roots = f"{number(tree.species.root_young_c[0])} °C"
    until = f"It stands absolutely still until {_day(still)}"
    feeds = f"its roots feed about {_share(effect.root_supply)} of the crown"
    limits = ", ".join(filter(None, (_sun(effect), _gusts(entry, effect))))
    winter = [place.id for place in places if place.kind in WINTER_KINDS and place.heated_to_c is None]
    where = (
        f"{listed(winter)} would do" if winter else "such as a cold frame or an unheated shed; the garden has none yet"
    )
    if entry.roots == "sparse" and entry.roots_worked:
        return (
            f"This is the weakest state there is: {feeds} and hold next to nothing; {limits}. {until}, and it needs a "
            f"winter place in which its root ball stays above {roots}, where young roots begin to die ({where}): "
            "carried there once, level and tied, before the first hard frost."
        )
    return (
        f"From now on {feeds}; {limits}. {until}; its young roots begin to die at {roots}, so think of its winter "
        f"place ({where})."
    )


def _note(entry: Entry, tree: Tree, numbers: ConditionNumbers) -> str:
    if entry.work == "move":
        return f"It stands at {entry.to} from then on."
    if entry.work == "water":
        return f"A note for you; the outlook goes on reckoning with its habit ({tree.watering})."
    if entry.work == "begin":
        return f"From then on it {stands([str(entry.measure)])}, until you log its end."
    if entry.work == "end":
        return f"From then on it no longer {stands([str(entry.measure)])}."
    if entry.work == "set-layer":
        return "Until that branch is cut off, or a year has gone by, its roots harden less for the winter."
    if entry.work in ("tie-down", "untie"):
        return "It counts as tied from then on." if entry.work == "tie-down" else "It counts as untied from then on."
    if entry.work == "checked":
        return "The long clock counts its next look from then; no number of the tree changes."
    if entry.work == "put-off":
        return "The long clock rests until then; no number of the tree changes."
    if entry.work == "sacrifice":
        return "It stays until it is taken off, and no number changes by it."
    if entry.work in CUTS_WOOD:
        pasted = "; under its paste half of the rim is at stake" if entry.paste else "; paste halves what is at stake"
        return f"Frost can reach the rim of its fresh cut for {numbers.wounds.fresh_days} days, less and less{pasted}."
    return "A note for you; no number changes by it."


def _seen(entry: Entry, tree: Tree, numbers: ConditionNumbers, sheds: bool) -> str:
    """What an observation changes."""
    if entry.seen == "leaf-fall" and not sheds:
        return "These leaves count as lost before their time, and come again in warmth; its season stays as it is."
    if entry.seen == "colouring" and tree.species.evergreen:
        return "A note for you: evergreens colour and change needles without a change of season."
    if entry.seen in SEASONS:
        return f"Its season is set by what you saw ({SEASONS[entry.seen]}), no longer by the model alone."
    if entry.seen == "scorch":
        share = 1.0 - numbers.leaf_area.scorched_left if entry.removed is None else entry.removed
        unsaid = " (say how much with --removed)" if entry.removed is None else ""
        return f"{_share(share)} of its leaves count as burnt{unsaid}, until others have grown."
    if entry.seen == "new-growth":
        return "Where leaves were lost or taken, what grows again counts from then."
    if entry.seen == "dead":
        return "You will hear of it no more, and its tasks rest. If it lives after all, strike this entry."
    found = verdict(entry, numbers.leaves)
    return _leaves(found, numbers.leaves) if found is not None else "A note for you; no number changes by it."


def _leaves(found: Verdict, numbers: LeafNumbers) -> str:
    share = _share(found.factor)
    head = f"Where roots were cut, they count for {share} of what was thought from then on ({found.words})"
    if found.factor >= 1:
        return f"{head}, for whole roots at most."
    if found.factor > numbers.still_hanging_factor:
        return f"{head}. If leaves hang still before {numbers.dawn_until_h}:00, log observe wilting then."
    return f"{head}. Act now: shade it, keep the wind off it, and see that its ball is moist and not wet."


def _short(value: float) -> str:
    return number(value, 0 if value == int(value) else 1)


def _share(share: float) -> str:
    return f"{number(share * 100)} %"


def _sun(effect: WorkEffect) -> str:
    if effect.sun_first_kwh is None:
        return ""
    if effect.sun_first_kwh == 0:
        return "no direct sun for three weeks"
    # A kilowatt-hour per square metre is an hour of sun at 1,000 W/m².
    hours = "an hour" if effect.sun_first_kwh == 1 else f"{_short(effect.sun_first_kwh)} hours"
    return f"at most about {hours} of full sun a day for three weeks"


def _gusts(entry: Entry, effect: WorkEffect) -> str:
    if effect.gust_untied_ms is None or effect.gust_tied_ms is None:
        return ""
    if entry.tied or effect.gust_tied_ms == effect.gust_untied_ms:
        return f"{'tied, ' if entry.tied else ''}it rocks in gusts from {_short(effect.gust_tied_ms)} m/s at the plant"
    return (
        f"untied, it rocks in gusts from {_short(effect.gust_untied_ms)} m/s at the plant "
        f"(tied, from {_short(effect.gust_tied_ms)})"
    )


def _frost(effect: WorkEffect) -> str:
    if effect.frost_shift_k <= 0:
        return ""
    degrees = "a degree" if effect.frost_shift_k == 1 else f"{_short(effect.frost_shift_k)} degrees"
    return f"its wood bears {degrees} less frost for {effect.frost_shift_days} days"


def _day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
