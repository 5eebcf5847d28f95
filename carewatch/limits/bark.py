"""Bark that shade has left: cooked on the sunny side in summer, thawed by day and frozen by night in winter."""

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.limits.damage import damage
from carewatch.limits.sheet import Case, Flags, Kind, Sheet

BARK_SCALD = Kind("bark-scald", "°C", "bark", turns=True)
KINDS = (BARK_SCALD,)
# The sun of a day is followed by its night: so many hours back a thaw still counts (judged: noon to the next dawn). [h]
THAW_LASTS_H = 18


def judge(case: Case, sheet: Sheet) -> None:
    """
    Temperature of the sunlit face, in two doses of which the worse counts.

    They are the hottest hour, and the coldest one after a thaw of the same bark, be it before now; limit and dose are
    the worse one's.
    """
    numbers = case.numbers
    some = np.nonzero(case.limits.bark_exposure > 0.0)[0]
    if some.size == 0:
        sheet.quiet(BARK_SCALD)
        return
    face_c = case.felt.bark_c[..., some]
    since_h = case.felt.thaw_age_h[:, some] + 1.0 + np.arange(face_c.shape[0])[:, None, None]
    thawed = (warmest_lately(face_c) > numbers.bark_thaws_c) | (since_h <= THAW_LASTS_H)
    cold_c = np.where(thawed, face_c, np.maximum(face_c, 0.0))
    cooked = damage(face_c.max(axis=0), *numbers.bark_heat_c)
    refrozen = damage(cold_c.min(axis=0), *numbers.bark_refreeze_c)
    hurt = np.maximum(cooked, refrozen)
    hot_10, cold_10 = numbers.bark_heat_c[0], numbers.bark_refreeze_c[0]
    # Where neither harms, summer's limit is shown while the bark is warmer than it is cold.
    colder = (refrozen.mean(axis=0) > cooked.mean(axis=0)) | (
        (hurt.max(axis=0) == 0.0) & (np.median(face_c, axis=(0, 1)) < numbers.bark_thaws_c)
    )
    refreezes = cold_c < cold_10
    # A night that harms begins with the thaw before it: that is what shade prevents.
    refreezes = refreezes | ((face_c > numbers.bark_thaws_c) & soon(refreezes))
    beyond = np.where(colder, refreezes, face_c > hot_10)
    loss = hurt * numbers.organ_weight["trunk"] * numbers.bark_face * case.limits.bark_exposure[some]
    dose = np.where(colder, cold_c, face_c)
    limit = np.where(colder, cold_10, hot_10)
    sheet.enter_some(BARK_SCALD, some, dose, limit, hurt, loss, face_c, beyond)
    sheet.rest_kept[:, some] *= 1.0 - loss


def soon(found: Flags) -> Flags:
    """Whether something is found within the THAW_LASTS_H after each hour, (hour, ...)."""
    ahead = np.zeros_like(found)
    for step in range(1, min(THAW_LASTS_H, found.shape[0] - 1) + 1):
        ahead[:-step] |= found[step:]
    return ahead


def warmest_lately(face_c: Array) -> Array:
    """Highest temperature of each hour and those THAW_LASTS_H before it, (hour, ...). [°C]"""
    warmest = face_c.copy()
    for back in range(1, min(THAW_LASTS_H, face_c.shape[0] - 1) + 1):
        np.maximum(warmest[back:], face_c[:-back], out=warmest[back:])
    return warmest
