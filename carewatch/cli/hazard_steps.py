"""What of an explanation belongs to single hazards: doses, limits, damage and loss, each with its source."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.assess import Assessment, Detail, TreeOutlook
from carewatch.limits.damage import rest_of
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.frost import CUTS
from carewatch.limits.judge import HAZARDS, UNITS, is_cold
from carewatch.limits.tolerance import organ_worth
from carewatch.outcome import organ_of

EACH_ALIKE = "straight: each freeze tears the same share"


@dataclass(frozen=True)
class Step:
    """One number on the way: what it is, its value, and where it comes from."""

    step: str
    quantity: str
    value: float | str | None
    unit: str
    source: str


def limit_source(tree: TreeOutlook, hazard: str, hazards: HazardNumbers, organ: str = "") -> str:
    """Where a limit comes from; organ: that loses most where it is not the hazard's usual one."""
    species = tree.condition.tree.species
    if organ == CUTS:
        return hazards.sources["wound"]
    if hazard == "bark-scald":
        return hazards.sources["bark"]
    if hazard == "chill" and "chill" in species.sources:
        return species.sources["chill"]
    group = {"frost": "frost", "root-freeze": "root", "heat": "heat", "drying": "drying", "sun": "sun"}.get(hazard)
    if hazard in ("sun", "wind", "soak"):
        works = [work.effect.source for work in tree.condition.opened if work.root_supply < 1.0]
        own = species.sources["sun"] if group else hazards.sources[hazard]
        return "; ".join(dict.fromkeys([*works, own]))
    return species.sources[group] if group else hazards.sources[hazard]


def hazard_steps(assessment: Assessment, tree: TreeOutlook, detail: Detail, hazards: HazardNumbers) -> list[Step]:
    """Every hazard that can act on the tree, and all of them together."""
    judged, column = detail.judged, detail.column
    condition = tree.condition
    today = assessment.now.astimezone(ZoneInfo(assessment.garden.site.time_zone)).date()
    leaves, buds = organ_worth(condition, hazards, today, assessment.garden.site.latitude)
    worths = leaves * float(rest_of(tree.lost.leaves)), buds * float(rest_of(tree.lost.buds))
    steps = []
    for name in HAZARDS:
        limit = float(judged.limit[name][column])
        if not np.isfinite(limit):
            continue
        extreme = judged.dose[name][:, :, column]
        worst = extreme.min(axis=0) if is_cold(name, limit) else extreme.max(axis=0)
        organ = judged.organ(name, column) or organ_of(name, condition.in_leaf)
        weight, weight_source = _weight(name, organ, worths, condition.root_supply, hazards)
        steps += [
            Step(name, "worst dose, median", float(np.median(worst)), UNITS[name], "the steps above, all hours ahead"),
            Step(name, "limit (10 % damage)", limit, UNITS[name], limit_source(tree, name, hazards, organ)),
            Step(
                name,
                "share of members beyond it",
                float(judged.beyond[name][:, :, column].any(axis=0).mean()),
                "0-1",
                "count of equally likely members",
            ),
            Step(
                name,
                f"expected damage to the {organ}",
                float(judged.damage[name][:, column].mean()),
                "0-1",
                EACH_ALIKE if name == "heave" else "logistic curve through the doses of 10 % and 50 %",
            ),
            Step(name, f"worth of the {organ}", weight, "0-1", weight_source),
            Step(name, "expected loss", float(judged.loss[name][:, column].mean()), "0-1", "worth times damage, mean"),
        ]
    steps.append(
        Step(
            "all",
            "expected loss by all hazards",
            tree.standing_loss,
            "0-1",
            "damage added up organ by organ: nothing is lost twice",
        )
    )
    return steps


def _weight(
    hazard: str, organ: str, worths: tuple[float, float], root_supply: float, hazards: HazardNumbers
) -> tuple[float | str, str]:
    """Worth of the organ that a hazard hurts, with its source; worths: of all leaves and of all buds."""
    if organ == "roots":
        spare = hazards.roots_spare * root_supply
        return f"all beyond the {spare * 100:.0f} % it can spare", hazards.sources["roots"]
    if organ == "bark":
        return f"{hazards.bark_face:.0%} of the stem, as far as its shade is gone", hazards.sources["bark"]
    if organ == CUTS:
        return "their size times that of a rim all round", hazards.sources["wound"]
    if hazard == "wind":
        return "roots by what they hold, leaves by what tears, a fall by what breaks", hazards.sources["wind"]
    if hazard == "load":
        return hazards.load_breaks, hazards.sources["load"]
    if hazard == "forcing":
        return hazards.organ_weight["buds"], hazards.sources["organ_weight"]
    if organ == "buds":
        return worths[1], hazards.sources["organ_weight"]
    return worths[0], hazards.sources["organ_weight"]
