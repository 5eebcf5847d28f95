"""The band of a picture: quantiles of the members, of the costliest spell, in what a gauge would show."""

import numpy as np
import pytest

from carewatch.hazard.course import MOST_HOURS, worst_band
from carewatch.limits.judge import Judgement
from tests.hazard.test_spells import HOURS, MEMBERS, _found, _frost


def test_the_band_is_made_of_the_members_quantiles() -> None:
    """Against numpy's own quantiles (linear between members) of the hours that are kept."""
    judged = _frost({30: -6.0}, 15)
    random = np.random.default_rng(3)
    judged.shown["frost"][:] += random.normal(0.0, 1.0, (HOURS, MEMBERS, 1))
    band = worst_band(judged, 0, _found(judged))
    assert band is not None

    felt = judged.shown["frost"][:MOST_HOURS, :, 0]
    for found, share in ((band.low, 0.1), (band.middle, 0.5), (band.high, 0.9)):
        assert found == pytest.approx(np.quantile(felt, share, axis=1))
    assert band.hazard == "frost"


def test_a_tree_in_peace_has_no_band() -> None:
    judged = _frost({}, 0)
    assert worst_band(judged, 0, ()) is None


def test_a_hazard_that_no_gauge_shows_has_no_band() -> None:
    judged = _frost({30: -6.0}, 15)
    spells = _found(judged)
    bare = Judgement(judged.dose, {}, judged.limit, judged.beyond, judged.damage, judged.loss)
    assert spells
    assert worst_band(bare, 0, spells) is None


def test_what_is_not_known_stays_unknown() -> None:
    judged = _frost({30: -6.0}, 15)
    spells = _found(judged)
    judged.shown["frost"][50:60] = np.nan
    band = worst_band(judged, 0, spells)
    assert band is not None
    assert np.isnan(band.middle[50:60]).all()
    assert np.isfinite(band.middle[:50]).all()
