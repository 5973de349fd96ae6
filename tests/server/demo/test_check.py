import json

import pytest

from server.demo import check

ON = {"value": 70, "lower": 60, "upper": 80}
DOCUMENT = {
    "tables": {
        "sites_by_model": [{"site": "calf", "sensor_model": "demo-a14"}],
        "sites": [{"site": "calf", "mard_pct": {"value": 10, "lower": 9, "upper": 12}, "on_rated_pct": ON}],
    }
}


def test_what_is_insisted_on_must_hold():
    check.insist("the sky is up", True)
    with pytest.raises(check.Failed, match="the sky is down"):
        check.insist("the sky is down", False)


@pytest.mark.parametrize(("site", "model", "there"), [("calf", "demo-a14", True), ("calf", "demo-b10", False)])
def test_a_row_is_looked_for_by_site_and_model(site, model, there):
    assert check._has_row(DOCUMENT, site, model) is there


def test_published_intervals_stand_beside_the_truth():
    class Truth:
        mard_pct = 10.4567

    class Community:
        class truth:  # noqa: N801
            sites = {"calf": Truth}  # noqa: RUF012

    figures = check._against_truth(DOCUMENT, Community)
    assert figures == [
        {"site": "calf", "truth": 10.46, "lower": 9, "upper": 12, "on_rated_truth": 71.3, "on_rated": ON}
    ]
    assert json.loads(check.report({"truth": figures})) == {"truth": figures}
