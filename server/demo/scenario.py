"""What the demo is about: the invented community of the fixtures."""

import json
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "community.json"


@dataclass(frozen=True, slots=True)
class GroupScenario:
    slug: str
    name: str
    description: str
    public: bool
    people: int


@dataclass(frozen=True, slots=True)
class Scenario:
    """Groups, dates, the seed of every random number, and the cell that nobody wears until the check plants it."""

    seed: int
    first_cut_off: date
    founded_on: date
    password: str
    groups: tuple[GroupScenario, ...]
    planted_site: str
    planted_model: str


@cache
def scenario() -> Scenario:
    told = json.loads(FIXTURE.read_text(encoding="utf-8"))
    return Scenario(
        seed=told["seed"],
        first_cut_off=date.fromisoformat(told["first_cut_off"]),
        founded_on=date.fromisoformat(told["founded_on"]),
        password=told["password"],
        groups=tuple(GroupScenario(**group) for group in told["groups"]),
        planted_site=told["planted"]["site"],
        planted_model=told["planted"]["sensor_model"],
    )
