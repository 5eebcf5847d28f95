"""The one rule: take the measure whose saved loss outweighs its work, the most; leave the tree in peace otherwise."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from carewatch.condition.now import Condition
from carewatch.hazard.spells import LEAST_LOSS
from carewatch.limits.damage import root_loss
from carewatch.measures.catalogue import parts_of

# One hour of work weighs as much as the whole of an ordinary tree at ordinary caution; judged. [min]
MINUTES_PER_WORTH = 60.0
# A loss below moderate is borne rather than break new roots (common practice: a fresh layer stands absolutely still),
# or rather than leave work to be done while nobody is there (common practice: act before leaving).
ENOUGH = 0.10
# Net gains closer than this are nearly equal (judged). [-]
NEARLY_EQUAL = 0.03
# What was asked for stands unless another gains a fifth more (design: hysteresis). [0-1]
KEEP_SHARE = 0.8
# What was asked for is called off when its gain falls below this share of what would be needed to ask (design).
STAND_DOWN_SHARE = 0.6
# What is in place already stays for nothing less than this share of what would be lost without it (judged). [0-1]
EASES = 0.2
STANDS_STILL = "a layer in its first year stands still, and in place enough is saved"


@dataclass(frozen=True)
class Option:
    """
    One measure as simulated for one tree.

    loss: expected, all hazards and handling together; handling: the part that carrying costs. [0-1]
    carries: how often the tree is lifted. hazard_damage, hazard_loss, hazard_probability: per hazard. [0-1]
    telling: the reason against it is worth a line in a message. minutes: of work in all; gain: worth times saved
    loss; cost: of the work, in the same coin. [-] begun: it is in place already. hands: times that it must be put in
    place while nobody is there. factor: how many times its cost it must gain, from `needed`. [-]
    """

    name: str
    loss: float
    handling: float
    hazard_damage: Mapping[str, float]
    hazard_loss: Mapping[str, float]
    hazard_probability: Mapping[str, float]
    carries: int
    minutes: float
    gain: float
    cost: float
    chosen: bool
    why: str
    telling: bool = False
    begun: bool = False
    hands: int = 0
    factor: float = 1.0

    @property
    def net(self) -> float:
        """What is left of the gain when the work is paid. [-]"""
        return self.gain - self.cost

    @property
    def worth_it(self) -> bool:
        """It gains as many times its cost as it must."""
        return self.gain > self.factor * self.cost


def handling_loss(condition: Condition, carry_harm: float, carries: int, spare: float) -> float:
    """
    Loss by carrying: young roots shear where they do not hold yet. [0-1]

    carry_harm: share of young roots lost per carry of a tree without anchorage. [0-1]
    """
    if carries == 0:
        return 0.0
    share = min(1.0, carry_harm * carries * (1.0 - condition.anchorage) ** 2) * condition.young_roots
    loss = root_loss(np.array(share), np.array(condition.root_supply), spare)
    return float(loss)


def cost_of(minutes: float, caution: float) -> float:
    """Work in the coin of loss: minutes / (60 · 10^(2·caution - 1)). [-]"""
    result: float = minutes / (MINUTES_PER_WORTH * 10.0 ** (2.0 * caution - 1.0))
    return result


def passes(option: Option, standing_loss: float, told: str) -> bool:
    """
    The rule for one option: what is lost as things stand is at least minor, and it gains more than its work asks for.

    told: what the grower was asked for; that, and what is in place, is not called off for a hair's breadth.
    """
    if option.gain <= 0.0 or (option.begun and standing_loss - option.loss < EASES * standing_loss):
        return False
    if option.begun or option.name == told:
        return option.gain > STAND_DOWN_SHARE * option.factor * option.cost
    return standing_loss >= LEAST_LOSS and option.worth_it


def stays_put(options: Sequence[Option], layer: bool) -> bool:
    """A layer in its first year for which enough is saved where it stands: it is not carried."""
    return layer and any(not option.carries and not option.hands and _enough(option) for option in options)


def by_itself(options: Sequence[Option]) -> bool:
    """Enough is saved by something that needs no hands while nobody is there."""
    return any(not option.hands and _enough(option) for option in options)


def _enough(option: Option) -> bool:
    # As it will be at the last chance: what stands still today is not announced to be carried tomorrow.
    return option.loss < ENOUGH and option.net > 0.0


def choose(
    options: Sequence[Option],
    standing_loss: float,
    layer: bool,
    company: frozenset[str],
    told: str = "",
) -> list[Option]:
    """
    Options in order of net gain, the chosen one marked, each with its reason.

    standing_loss: expected if nothing is done. [0-1]
    layer: a severed layer in its first year stands still: what protects it in place comes first, and it is carried only
    where nothing in place brings the loss under ENOUGH. What needs hands while nobody is there likewise comes after
    what needs none and brings the loss under that.
    company: what was chosen for other trees of the same place; one errand is easier than two of nearly equal worth.
    told: what the grower was asked for before, or ""; it stands unless another is better by a fifth.
    Nothing is chosen when no option passes the rule.
    """
    stays, alone = stays_put(options, layer), by_itself(options)
    ranked = sorted(
        options,
        key=lambda option: (
            stays and option.carries > 0,
            alone and option.hands > 0,
            not passes(option, standing_loss, told),
            -option.net,
            option.minutes,
            option.name,
        ),
    )
    if not ranked:
        return []
    best = ranked[0]
    for option in ranked:
        near = option.worth_it and option.net > max(0.0, best.net - NEARLY_EQUAL)
        kept = option.name == told and option.net > 0.0 and option.net >= KEEP_SHARE * best.net
        kept = kept and not _adds(best, option)
        near = near and (option.carries > 0) <= (best.carries > 0) and option.hands <= best.hands
        if (kept and not (alone and option.hands)) or (near and option.name in company):
            best = option
            break
    return explained(ranked, best if passes(best, standing_loss, told) else None, standing_loss, stays)


def _adds(more: Option, told: Option) -> bool:
    """What was asked for stands, and something besides it is worth its own work: that is no change of mind."""
    besides = set(parts_of(told.name)) < set(parts_of(more.name))
    return besides and more.gain - told.gain > more.factor * (more.cost - told.cost)


def explained(ranked: Sequence[Option], chosen: Option | None, standing_loss: float, stays: bool) -> list[Option]:
    """The options, the chosen one first and marked, each with its reason; stays: a layer that is not carried."""
    result: list[Option] = []
    for option in ranked:
        if chosen is not None and option.name == chosen.name:
            falls = f"from {percent(standing_loss)} to {percent(option.loss)}"
            why = f"expected loss falls {falls} for {minutes_text(option.minutes)}"
            why += f"; {hands_text(option)}" if option.hands else ""
            result.insert(0, replace(option, chosen=True, why=why))
        else:
            still = stays and option.carries > 0 and (chosen is None or not chosen.carries)
            why, telling = (STANDS_STILL, True) if still else _reason(option, chosen, standing_loss)
            result.append(replace(option, why=why, telling=telling))
    return result


def _reason(option: Option, best: Option | None, standing_loss: float) -> tuple[str, bool]:
    """The one reason that weighs most against an option, and whether it is worth a line in a message."""
    if option.loss >= standing_loss - 0.002:
        if option.handling > 0.01:
            return f"carrying alone would cost {percent(option.handling)}: the new roots do not hold yet", True
        worst = max(option.hazard_loss, key=lambda name: option.hazard_loss[name])
        if option.loss > standing_loss + 0.01:
            return f"makes it worse: {percent(option.hazard_loss[worst])} by {worst}", False
        return "changes nothing here", False
    if best is None:
        saved = percent(standing_loss - option.loss)
        if standing_loss < LEAST_LOSS:
            return f"would save {saved}; less than {percent(LEAST_LOSS)} is expected to be lost as things stand", False
        if option.gain > option.cost:
            return f"would save {saved} for {minutes_text(option.minutes)}; there is still time to decide", False
        return f"saves {saved}, not worth {minutes_text(option.minutes)}", False
    if option.hands and not best.hands:
        return hands_text(option), True
    if option.handling > 0.01 and option.loss > best.loss:
        return f"carrying would cost {percent(option.handling)} of the tree: the new roots do not hold yet", True
    if option.loss > best.loss + 0.01:
        return f"protects less: {percent(option.loss)} would still be lost", True
    if option.loss < best.loss - 0.01 and option.minutes > best.minutes:
        more = minutes_text(option.minutes - best.minutes)
        return f"would save {percent(best.loss - option.loss)} more, not worth {more} more", False
    if option.minutes > best.minutes:
        return f"more work for the same: {minutes_text(option.minutes)}", False
    return f"no better: {percent(option.loss)} would still be lost", False


def percent(share: float) -> str:
    """A share as whole per cent, with "under 1 %" for small ones."""
    if 0.0 < share < 0.01:
        return "under 1 %"
    return f"{share * 100:.0f} %"


def minutes_text(minutes: float) -> str:
    """Minutes of work in words."""
    whole = max(1, round(minutes))
    return f"{whole} minute" + ("" if whole == 1 else "s")


def hands_text(option: Option) -> str:
    """That others would have to do it, in words."""
    days = "a day" if option.hands == 1 else f"{option.hands} days"
    return f"it needs hands on {days} on which nobody is there"
