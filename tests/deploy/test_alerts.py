"""Rules of alarm ask for figures that there are; a name that is gone would never alarm anybody."""

import re

import yaml

from tests.deploy import lint

RULES = [
    rule
    for group in yaml.safe_load((lint.DEPLOY / "monitoring/alerts.yml").read_text(encoding="utf-8"))["groups"]
    for rule in group["rules"]
]


def test_each_rule_asks_for_figures_that_the_service_has(db, client):
    client.get("/health/live")  # a request is counted once it is answered
    told = client.get("/metrics").content.decode()
    asked = {name for rule in RULES for name in re.findall(r"commonwear_\w+", rule["expr"])}
    assert len(asked) >= 7
    assert {name for name in asked if f"\n{name}" not in told} == set()


def test_each_rule_says_what_is_wrong():
    assert all(rule["annotations"]["summary"] for rule in RULES)
    assert len({rule["alert"] for rule in RULES}) == len(RULES)
