"""A wear as a moderator sees it: days and steps, and no more."""

import pytest

from server.wears.curated import curated, is_unlike
from server.wears.services import erase_due_pairs
from tests.pooling.checks.test_misfit import MODEL
from tests.server.records import pairs

pytestmark = pytest.mark.django_db


def test_pairs_are_told_by_whole_days_in_steps_and_in_no_order_of_the_day(give, contributor):
    sent = pairs(n_pairs=40, worn_min=5_000)
    sent[3] |= {"sensor": None, "sensor_mark": "below"}
    seen = curated(give(contributor, pairs=sent, worn_min=5_000, end_reason="fell_off"), model={}, with_pairs=True)
    assert len(seen.pairs) == seen.n_pairs == 40
    assert {pair.day for pair in seen.pairs} == {1, 2, 3, 4}
    assert all(pair.reference % 10 == 0 and (pair.sensor is None or pair.sensor % 10 == 0) for pair in seen.pairs)
    assert [pair.sensor_mark for pair in seen.pairs].count("below") == 1
    by_day = [(pair.day, pair.reference) for pair in seen.pairs]
    assert by_day == sorted(by_day)
    exact = [round(pair["reference"] / 10) * 10 for pair in sent if pair["elapsed_min"] < 1440]
    assert sorted(exact) == [pair.reference for pair in seen.pairs if pair.day == 1]


def test_readings_in_mmol_l_have_a_step_of_their_own(give, contributor):
    sent = [
        one | {"reference": round(one["reference"] / 18, 1), "sensor": round(one["sensor"] / 18, 1)} for one in pairs()
    ]
    seen = curated(give(contributor, pairs=sent, glucose_unit="mmol/L"), model={}, with_pairs=True)
    assert seen.glucose_unit == "mmol/L"
    assert all((2 * pair.reference).is_integer() for pair in seen.pairs)


def test_without_pairs_findings_and_figures_stay(give, contributor):
    seen = curated(give(contributor, pairs=[one | {"sensor": 120} for one in pairs()]), model={}, with_pairs=False)
    assert (seen.pairs, seen.n_pairs, seen.expected) == (None, 20, None)
    assert "stuck_sensor" in {finding.code for finding in seen.findings}
    assert seen.points >= 8
    assert seen.agreement["mard_pct"] > 0


def test_a_wear_is_set_beside_what_the_edition_lets_one_expect(give, contributor):
    odd = give(contributor, pairs=[one | {"sensor": 20 + round(1.6 * one["reference"])} for one in pairs()])
    usual = give(contributor, seed=2)
    assert (is_unlike(odd, MODEL), is_unlike(usual, MODEL), is_unlike(odd, {})) == (True, False, False)
    seen = curated(odd, model=MODEL, with_pairs=False)
    assert seen.expected.sds_off > 3
    assert "unlike_the_pool" in {finding.code for finding in seen.findings}
    assert seen.points > curated(odd, model={}, with_pairs=False).points


def test_a_wear_without_readings_is_still_described(give, contributor):
    wear = give(contributor)
    erase_due_pairs(today=wear.pairs.erase_on)
    seen = curated(wear, model=MODEL, with_pairs=True)
    assert (seen.site, seen.n_pairs, seen.pairs, seen.expected, seen.agreement) == ("thigh.front", 0, None, None, {})
