"""What several tests of pooling share: published tables, a good wear record, and a small invented pool as fitted."""

import csv
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from pooling.edition import EditionContext, SensorModelFacts, assemble
from pooling.outcomes import Level, Outcomes, Survival
from pooling.parts import LotRow, LowRow, PartRow, Parts


@dataclass(frozen=True)
class Estimate:
    median: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Cell:
    place: str
    sensor_model: str | None
    n_people: int
    n_wears: int
    n_pairs: int
    mard_pct: Estimate
    bias_pct: Estimate
    within_15_15_pct: Estimate
    within_20_20_pct: Estimate
    people_range_pct: tuple[float, float]
    location: float
    log_variance: float
    reading_sd_log: float


@dataclass(frozen=True)
class Contrast:
    a: tuple[str, str | None]
    b: tuple[str, str | None]
    difference_mard_points: Estimate
    p_a_better_frac: float
    tied: bool
    overall_mard_points: Estimate


@dataclass(frozen=True)
class Fit:
    cells: tuple[Cell, ...] = ()
    sites: tuple[Cell, ...] = ()
    contrasts: tuple[Contrast, ...] = ()
    spreads: dict[str, dict[str, Estimate]] = field(default_factory=dict)
    kurtosis: float = 2.13


def make_cell(place: str, sensor_model: str | None = None, *, n_people: int = 40, mard: float = 10.0) -> Cell:
    half = 13.0 / n_people**0.5
    return Cell(
        place=place,
        sensor_model=sensor_model,
        n_people=n_people,
        n_wears=2 * n_people + 1,
        n_pairs=61 * n_people + 3,
        mard_pct=Estimate(mard, mard - half * 0.47, mard + half * 0.53),
        bias_pct=Estimate(-2.3, -2.3 - half, -2.3 + half),
        within_15_15_pct=Estimate(78.4, 78.4 - 3 * half, 78.4 + 3 * half),
        within_20_20_pct=Estimate(88.1, 88.1 - 2 * half, 88.1 + 2 * half),
        people_range_pct=(mard - 2.2, mard + 3.1),
        location=-0.0231,
        log_variance=-4.3127,
        reading_sd_log=0.012 * mard,
    )


def make_contrast(a: str, b: str, model: str | None = None, *, difference: float = 1.3, tied: bool = True) -> Contrast:
    ends = Estimate(difference, difference - 0.9, difference + 1.1)
    overall = Estimate(difference + 0.3, difference - 0.6, difference + 1.4) if tied else ends
    return Contrast((a, model), (b, model), ends, 0.12 if difference > 0 else 0.88, tied, overall)


def make_context(**changed: Any) -> EditionContext:
    facts: dict[str, Any] = {
        "group_slug": "hill-walkers",
        "group_name": "Hill walkers",
        "group_kind": "group",
        "wearers": "adult",
        "number": 7,
        "cut_off": "2026-07-01",
        "next_cut_off": "2026-08-01",
        "protocol_version": 2,
        "fit_version": 1,
        "seal_version": 1,
        "k": 5,
        "feeds_everyone": True,
        "environment": "0" * 64,
        "audit_passed": True,
        "n_audited_records": 134,
        "sensor_models": {
            "demo-a14": SensorModelFacts(14, ("upper_arm.back",)),
            "demo-b10": SensorModelFacts(10, ("upper_arm.back", "abdomen.front")),
        },
    }
    return EditionContext(**(facts | changed))


def make_fit() -> Fit:
    people = {"upper_arm.back": 120, "abdomen.front": 64, "thigh.front": 34, "thigh.outer": 22, "chest": 12, "calf": 6}
    people["forearm"] = 4
    mard = {"upper_arm.back": 9.13, "abdomen.front": 9.87, "thigh.front": 10.42, "thigh.outer": 11.3, "chest": 12.61}
    sites = [make_cell(place, n_people=n, mard=mard.get(place, 13.4)) for place, n in people.items()]
    sites.append(make_cell("abdomen", n_people=11, mard=10.2))
    cells = [make_cell("upper_arm.back", "demo-a14", n_people=70, mard=9.4)]
    cells += [make_cell("abdomen.front", "demo-a14", n_people=31, mard=10.1), make_cell("calf", n_people=6, mard=13.4)]
    cells += [
        make_cell("upper_arm.back", "demo-b10", n_people=50, mard=8.8),
        make_cell("chest", "demo-b10", n_people=4),
    ]
    contrasts = [
        make_contrast("upper_arm.back", "thigh.front", difference=-1.31),
        make_contrast("chest", "upper_arm.back", difference=3.4, tied=False),
        make_contrast("thigh.front", "abdomen.front", difference=0.6),
        make_contrast("thigh.front", "chest", difference=-2.2),
        make_contrast("forearm", "upper_arm.back", difference=4.2),
        make_contrast("abdomen.front", "upper_arm.back", "demo-a14", difference=0.71),
    ]
    spreads = {"location": {"person": Estimate(0.0432, 0.03, 0.06)}, "dispersion": {"wear": Estimate(0.27, 0.2, 0.4)}}
    return Fit(tuple(cells), tuple(sites), tuple(contrasts), spreads)


def make_survival(place: str, model: str | None = None, *, n_people: int = 64, rated: float = 82.3) -> Survival:
    shares = {day: rated + (14 - day) * 1.3 for day in (3, 7, 10)}
    on = {day: Estimate(share, share - 5.2, min(share + 4.1, 99.9)) for day, share in shares.items()}
    end = Estimate(rated, rated - 6.2, rated + 4.7)
    off = {"off_adhesive": 9.4, "off_device": 1.7, "off_body": 5.1, "off_other": 1.5}
    ends = {name: Estimate(share, share / 2, share * 1.6) for name, share in off.items()}
    return Survival(place, model, n_people, on, end, {14: (Estimate(77.7, 70.1, 83.2), n_people // 2)}, ends)


def make_level(place: str, model: str | None = None, *, n_people: int = 64, median: float = 21.3) -> Level:
    return Level(place, model, n_people, Estimate(median, median * 0.8, median * 1.1))


def make_outcomes() -> Outcomes:
    people = {"upper_arm.back": 120, "thigh.front": 60, "chest": 12, "forearm": 4, "abdomen": 34}
    models = [("upper_arm.back", "demo-a14", 70), ("chest", "demo-b10", 4)]
    rows = [(place, None, n) for place, n in people.items()] + models
    return Outcomes(
        survival=tuple(make_survival(place, model, n_people=n) for place, model, n in rows),
        reaction_pct=tuple(make_level(place, model, n_people=n) for place, model, n in rows),
        ratings={
            rating: tuple(make_level(place, model, n_people=n, median=middle) for place, model, n in rows)
            for rating, middle in {"ease": 7.12, "comfort": 6.34}.items()
        },
        far_per_1000=tuple(make_level(place, model, n_people=n, median=4.1) for place, model, n in rows),
    )


def make_part(place: str | None, part: str, *, n_people: int = 64, difference: float = 1.0) -> PartRow:
    ends = Estimate(difference, difference - 0.83, difference + 0.91)
    if place is None:
        return PartRow(None, part, n_people, ends, share_pct=Estimate(31.4, 27.2, 35.1))
    mard = 9.7 + difference
    return PartRow(
        place,
        part,
        n_people,
        ends,
        mard_pct=Estimate(mard, mard - 1.37, mard + 1.52),
        within_15_15_pct=Estimate(76.2, 70.3, 81.9),
        within_20_20_pct=Estimate(87.3, 83.1, 91.4),
        against_scheduled_points=Estimate(1.23, 0.18, 2.31) if part == "doubt" else None,
    )


def make_parts() -> Parts:
    places = {None: 200, "upper_arm.back": 120, "thigh.front": 34, "chest": 12}
    differences = {
        "phase": {"day1": 1.4, "days2_7": -0.2, "day8_on": 0.1, "all_days_alike": -0.4},
        "range": {"reference_low": 3.2, "reference_mid": 0.1, "reference_high": -1.1},
        "prompt": {"scheduled": -0.3, "doubt": 1.1},
    }

    def rows(name: str) -> tuple[PartRow, ...]:
        return tuple(
            make_part(place, part, n_people=n, difference=own)
            for place, n in places.items()
            for part, own in differences[name].items()
            if place is not None or part != "all_days_alike"
        )

    lows = tuple(
        LowRow(place, n, Estimate(24.3, 12.2, 38.9), Estimate(31.2, 17.3, 45.4)) for place, n in places.items()
    )
    lots = tuple(LotRow(place, n, Estimate(0.61, -0.28, 1.53)) for place, n in places.items())
    return Parts(rows("phase"), rows("range"), rows("prompt"), lows, lots)


@pytest.fixture(name="make_parts")
def _make_parts():
    return make_parts


@pytest.fixture(name="make_part")
def _make_part():
    return make_part


@pytest.fixture(name="make_survival")
def _make_survival():
    return make_survival


@pytest.fixture(name="make_level")
def _make_level():
    return make_level


@pytest.fixture(name="make_outcomes")
def _make_outcomes():
    return make_outcomes


@pytest.fixture(name="make_cell")
def _make_cell():
    return make_cell


@pytest.fixture(name="make_contrast")
def _make_contrast():
    return make_contrast


@pytest.fixture(name="make_context")
def _make_context():
    return make_context


@pytest.fixture(name="make_fit")
def _make_fit():
    return make_fit


@pytest.fixture(name="document")
def _document() -> dict:
    return assemble(make_fit(), make_context(), make_outcomes(), make_parts())


PUBLISHED = Path(__file__).resolve().parents[2] / "fixtures" / "published"


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[dict[str, str]]]:
    """The rows of a published table; where each comes from stands in ORIGIN.md beside it."""

    def rows(name: str) -> list[dict[str, str]]:
        with (PUBLISHED / f"{name}.csv").open(newline="", encoding="utf-8") as table:
            return list(csv.DictReader(table))

    return rows


def _pair(elapsed_min: int, reference: float, sensor: float) -> dict[str, Any]:
    return {
        "elapsed_min": elapsed_min,
        "reference": reference,
        "sensor": sensor,
        "sensor_mark": None,
        "prompt": "scheduled",
        "source": "trace",
        "rate_mg_dl_min": -0.4,
        "gap_min": 2,
        "replicate": None,
    }


@pytest.fixture
def good_record() -> dict[str, Any]:
    """A wear record without a fault, with every field filled in."""
    return {
        "format": "wear-record/1",
        "glucose_unit": "mg/dL",
        "sensor_model": "demo-a14",
        "site": "abdomen.flank",
        "side": "left",
        "worn_min": 20010,
        "end_reason": "completed",
        "meter_class": "within-15-pct",
        "assignment": "randomised",
        "plan": "7f3c9a",
        "calibrated": False,
        "conditions": {
            "prepared": ["cover_tape"],
            "pinch": "medium",
            "exposed": ["water", "sport"],
            "near_insulin_site": False,
            "spot_rested_days": 21,
            "interferent": False,
        },
        "events": [{"kind": "edge_lift", "elapsed_min": 14400}],
        "skin": {"grade": 1, "signs": ["itch"]},
        "ratings": {"ease": 8, "comfort": 6, "discretion": 9, "rated_by": "self"},
        "pairs": [
            _pair(95, 112, 98),
            _pair(720, 141, 150),
            _pair(1500, 88, 97.5),
            _pair(4300, 203, 181),
            _pair(11000, 64, 71),
        ],
    }
