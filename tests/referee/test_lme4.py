"""`reml` on three numbers a wear beside what lme4 said of the raw readings: Bates, Maechler, Bolker and Walker, J Stat
Softw 2015;67(1). Its answers are kept in lme4.json with the versions that gave them, so that no R is needed here."""

import json

import numpy as np
import pytest

from pooling.hierarchy import reml
from tests.referee import lme4

SAID = json.loads(lme4.FROZEN.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", lme4.SDS)
def test_the_same_of_three_numbers_a_wear(name):
    raw, said = lme4.readings(name), SAID[name]
    wears = raw.groupby("wear")
    centred = ((raw["y"] - wears["y"].transform("mean")) ** 2).groupby(raw["wear"]).sum()
    fit = reml(
        wears["y"].mean(),
        wears.size(),
        np.where(wears.size() == 1, 0, centred),
        wears["person"].first(),
        wears["cell"].first(),
    )
    assert fit.criterion == pytest.approx(said["criterion"], abs=1e-3)
    sds = [fit.sd_person, fit.sd_person_cell, fit.sd_wear, fit.sd_residual]
    assert sds == pytest.approx(said["sds"], rel=1e-4)
    assert fit.beta == pytest.approx(said["beta"], rel=1e-4)
    assert fit.se == pytest.approx(said["se"], rel=1e-4)


def test_only_the_third_table_has_spreads_of_nothing():
    zeros = {name: said["sds"].count(0) for name, said in SAID.items()}
    assert zeros == {"balanced": 0, "unbalanced": 0, "zero variance": 2}
