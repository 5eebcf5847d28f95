"""The one rule: take the measure whose saved loss outweighs its work, the most; leave the tree in peace otherwise."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from carewatch.condition.now import Condition
from carewatch.limits.damage import root_loss

# One hour of work weighs as much as the whole of an ordinary tree at ordinary caution; judged. [min]
MINUTES_PER_WORTH = 60.0
# With a chance to act still to come tomorrow the gain must be twice the cost; at the last chance once;
# judged. [h], [-]
LAST_CHANCE_H = 24.0
EARLIER_FACTOR = 2.0
# A loss below moderate is borne rather than break new roots (common practice: a fresh layer stands absolutely still).
LAYER_ENOUGH = 0.10
# Net gains closer than this are nearly equal (judged). [-]
NEARLY_EQUAL = 0.03
# What was asked for stands unless another gains a fifth more (design: hysteresis). [0-1]
KEEP_SHARE = 0.8
STANDS_STILL = "a layer in its first year stands still, and in place enough is saved"


@dataclass(frozen=True)
class Option:
    """
    One measure as simulated for one tree.

    loss: expected, all hazards and handling together; handling: the part that carrying costs. [0-1]
    carries: how often the tree is lifted. hazard_damage, hazard_loss, hazard_probability: per hazard. [0-1]
    telling: the reason against it is worth a line in a message. minutes: of work in all; gain: worth times saved
    loss; cost: of the work, in the same coin. [-]
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


def choose(
    options: Sequence[Option],
    standing_loss: float,
    hours_left: float,
    layer: bool,
    company: frozenset[str],
    told: str = "",
) -> list[Option]:
    """
    Options in order of net gain, the chosen one marked, each with its reason.

    standing_loss: expected if nothing is done. [0-1]; hours_left: until the work must begin. [h]
    layer: a severed layer in its first year stands still: what protects it in place comes first, and it is carried only
    where nothing in place brings the loss under LAYER_ENOUGH.
    company: what was chosen for other trees of the same place; one errand is easier than two of nearly equal worth.
    told: what the grower was asked for before, or ""; it stands unless another is better by a fifth.
    Nothing is chosen when no option gains more than its work costs.
    """
    factor = 1.0 if hours_left <= LAST_CHANCE_H else EARLIER_FACTOR
    stays = layer and any(
        not option.carries and option.loss < LAYER_ENOUGH and option.gain > factor * option.cost for option in options
    )
    ranked = sorted(
        options,
        key=lambda option: (
            stays and option.carries > 0,
            option.cost * factor - option.gain,
            option.minutes,
            option.name,
        ),
    )
    if not ranked:
        return []
    best = ranked[0]
    net = best.gain - factor * best.cost
    for option in ranked:
        own = option.gain - factor * option.cost
        near = own > max(0.0, net - NEARLY_EQUAL)
        kept = option.name == told and own > 0.0 and own >= KEEP_SHARE * net
        if kept or (near and option.name in company and (option.carries > 0) <= (best.carries > 0)):
            ranked = [option, *(other for other in ranked if other is not option)]
            best = option
            break
    wanted = best.gain > factor * best.cost
    result = []
    for position, option in enumerate(ranked):
        if position == 0 and wanted:
            falls = f"from {percent(standing_loss)} to {percent(option.loss)}"
            why = f"expected loss falls {falls} for {minutes_text(option)}"
            result.append(replace(option, chosen=True, why=why))
        else:
            kept = stays and option.carries > 0
            why, telling = (STANDS_STILL, True) if kept else _reason(option, best if wanted else None, standing_loss)
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
        if option.gain > option.cost:
            return f"would save {saved} for {minutes_text(option)}; there is still time to decide", False
        return f"saves {saved}, not worth {minutes_text(option)}", False
    if option.handling > 0.01 and option.loss > best.loss:
        return f"carrying would cost {percent(option.handling)} of the tree: the new roots do not hold yet", True
    if option.loss > best.loss + 0.01:
        return f"protects less: {percent(option.loss)} remains", True
    if option.minutes > best.minutes:
        return f"more work for the same: {minutes_text(option)}", False
    return f"no better: {percent(option.loss)} remains", False


def percent(share: float) -> str:
    """A share as whole per cent, with "under 1 %" for small ones."""
    if 0.0 < share < 0.01:
        return "under 1 %"
    return f"{share * 100:.0f} %"


def minutes_text(option: Option) -> str:
    """Minutes of work in words."""
    minutes = max(1, round(option.minutes))
    return f"{minutes} minute" + ("" if minutes == 1 else "s")
