"""Dose to damage: one logistic curve through the doses of 10 % and 50 %."""

import numpy as np

from carewatch.forecast.weather import Array

# Odds at 10 % damage are 1:9, at 50 % 1:1; the curve is straight in the logarithm of the odds between them.
LOG_NINE = float(np.log(9.0))
LOG_TEN = float(np.log(10.0))
# Damage that no one could see (judged). [0-1]
NOTHING = 0.01
# How likely a tree was protected in a night for which nothing was logged: calls are often followed and seldom answered
# (judged). What a night has taken is worked out and not seen, and must not silence the next one. [0-1]
DOUBT = 0.5
# Two slopes below the harm of one hour a whole day does not reach a tenth of it: nothing needs to be summed. [K]
COOL_K = 20.0


def damage(dose: Array, tenth: Array | float, half: Array | float) -> Array:
    """
    Expected share of an organ that is lost. [0-1]

    dose, tenth, half: the dose felt and those of 10 % and 50 % damage, in one unit; half may lie below tenth (cold).
    Where both are infinite the organ is not there and nothing is lost. Below the dose of 10 % the curve is bent down to
    reach nothing where the logistic says 1 %: an untroubled tree loses nothing, it does not lose a little of
    everything.
    """
    with np.errstate(invalid="ignore"):
        span = np.asarray(half - tenth)
        exponent = LOG_NINE * (half - dose) / span
    share = 1.0 / (1.0 + np.exp(np.clip(exponent, -50.0, 50.0)))
    share = share * np.clip((share - NOTHING) / (0.1 - NOTHING), 0.0, 1.0)
    return np.where(np.isfinite(half + tenth), share, 0.0)


def damage_by_ratio(dose: Array, tenth: Array, half: Array) -> Array:
    """
    Expected share of an organ that is lost, where doses harm by their ratio as durations and loads do. [0-1]

    dose, tenth, half: as for damage; doses from nothing on, tenth below half.
    """
    with np.errstate(invalid="ignore"):
        return damage(np.log(np.maximum(dose, 0.01 * tenth)), np.log(tenth), np.log(half))


def root_loss(share: Array, root_supply: Array, spare: float, taken: Array | float = 0.0) -> Array:
    """
    What losing a share of its roots costs a tree: nothing up to what it can spare, all of it at all roots. [0-1]

    share: of the roots that are left. [0-1]; root_supply: of the tree now: an intact one spares `spare`, a weak one in
    proportion. [0-1] taken: share of all roots that was lost before, which uses up what can be spared. [0-1]
    Source: we cut 40 % of an intact tree's roots without loss (common practice).
    """
    kept = spare * root_supply
    whole = taken + (1.0 - taken) * share
    before, after = (np.clip((lost - kept) / (1.0 - kept), 0.0, 1.0) for lost in (taken, whole))
    return np.asarray(after - before)


def of_the_rest(share: Array, taken: Array | float, doubt: float = 0.0) -> Array:
    """
    What of an organ's rest a dose takes: those parts that it kills and no earlier dose has. [0-1]

    share: that the dose kills of the whole organ. [0-1]; taken: that the worst earlier dose of the same kind has killed
    already, unless it has taken nothing, which is as likely as `doubt`. [0-1] What lived through a night lives through
    one like it: limits differ from part to part, and the parts that bear least went first.
    """
    takes = (1.0 - doubt) * np.maximum(share - taken, 0.0) + doubt * share
    return np.asarray(takes / np.maximum(rest_of(taken, doubt), 1e-9))


def rest_of(taken: Array | float, doubt: float = DOUBT) -> Array | float:
    """The share of an organ that is still to be expected, doubt and meanings as for of_the_rest. [0-1]"""
    return 1.0 - (1.0 - doubt) * taken


def running_dose_k(temp_c: Array, reference_c: Array, slope_k: float, day_start: np.ndarray) -> Array:
    """
    Heat felt since local midnight, as kelvins above the reference for its own duration. [K]

    temp_c: (hour, ...). [°C]; reference_c: temperature that does the reference harm in one hour. [°C]
    slope_k: fall of that temperature for ten times the duration. [K]; day_start: index of each hour's first hour of
    day.

    Hours at T count 10^((T - reference)/slope); the logarithm of their sum brings the sum back to kelvins, so that a
    steady temperature held t hours gives T - reference + slope·log10(t). Source: temperature falls with the logarithm
    of time in Ruter & Ingram's root pairs and in leaf heat tests (hazards.toml).
    """
    rate = np.exp(np.clip((temp_c - reference_c) * (LOG_TEN / slope_k), -27.0, 27.0))
    total = np.concatenate([np.zeros((1, *rate.shape[1:])), np.cumsum(rate, axis=0)], axis=0)
    since = total[1:] - total[day_start]
    result: Array = slope_k * np.log10(np.maximum(since, 1e-12))
    return result


def day_dose_k(temp_c: Array, one_hour_c: Array, slope_k: float, day_start: np.ndarray) -> Array:
    """The running dose of heat; for a block that is cool throughout, simply how far it stays below harm. [K]"""
    below: Array = temp_c - one_hour_c
    finite = np.isfinite(one_hour_c)
    if not finite.any() or float(below[:, :, finite].max()) < -COOL_K:
        return below
    return running_dose_k(temp_c, one_hour_c, slope_k, day_start)
