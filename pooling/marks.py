"""What a chart shows of a table of an edition: one mark a row, in its order, and the finding in a sentence."""

from collections.abc import Sequence
from dataclasses import dataclass

from pooling.edition import BASIS_CHOICE, table_rows
from pooling.errors import InvalidInput
from pooling.tongue import Say
from pooling.vocabulary import capitalised

SITE_AXIS = "expected difference from fingerstick (MARD, %)"
CONTRAST_AXIS = "difference in expected MARD (points)"
NO_ROWS = "There is nothing to draw in this edition."


@dataclass(frozen=True, slots=True)
class Chart:
    """What a chart shows of its table: a figure, its axis and its heading, what it is called, and how to read it."""

    figure: str
    title: str
    axis: str
    called: str
    hint: str


_NEARNESS = Chart(
    "mard_pct",
    "Difference from fingerstick by site",
    SITE_AXIS,
    "the expected difference from the fingerstick (MARD, %)",
    "Further left is closer to the fingerstick.",
)
_PART_AXIS = "MARD in the part less that of all readings (points)"


def _part_chart(title: str) -> Chart:
    return Chart(
        "against_all_points",
        title,
        _PART_AXIS,
        "MARD less that of all readings, in points,",
        "Right of the zero marks readings lie further from the fingerstick than all readings do.",
    )


PART_NAMES = {
    "day1": "day 1",
    "days2_7": "days 2 to 7",
    "day8_on": "day 8 and later",
    "all_days_alike": "each day worn counting alike",
    "reference_low": "fingersticks below 70 mg/dL",
    "reference_mid": "fingersticks from 70 to 180 mg/dL",
    "reference_high": "fingersticks above 180 mg/dL",
    "scheduled": "scheduled beforehand",
    "doubt": "in doubt of the sensor",
}
_PART_COLUMNS = {"phases": "phase", "ranges": "range", "prompts": "prompt"}
SHOWN = {
    "sites": _NEARNESS,
    "sites_by_model": _NEARNESS,
    "contrasts": Chart(
        "difference_points",
        "Sites against each other",
        CONTRAST_AXIS,
        "the difference in expected MARD, in points,",
        "Right of the zero marks the first site is further from the fingerstick.",
    ),
    "phases": _part_chart("Day by day of wear"),
    "ranges": _part_chart("At low, middle and high glucose"),
    "prompts": _part_chart("Why the finger was pricked"),
    "lows": Chart(
        "lows_missed_pct",
        "Lows missed by site",
        "lows without a low reading (of 100)",
        "the share of low fingersticks at which the sensor showed no low (of 100)",
        "Further left misses fewer.",
    ),
    "survival": Chart(
        "on_rated_pct",
        "Still on the skin by site",
        "still on at the end of the rated life (of 100)",
        "the share of sensors still on at the end of their rated life (of 100)",
        "Further right stays on longer.",
    ),
    "skin": Chart(
        "reaction_pct",
        "Skin that reacted by site",
        "people whose skin reacted (of 100)",
        "the share of people whose skin reacted (of 100)",
        "Further left is kinder to the skin.",
    ),
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One row of a chart: what it is called, where its point and interval lie, and how they read."""

    name: str
    sensor_model: str | None
    value: float
    lower: float
    upper: float
    people_at_least: int
    licensed: bool
    signed: bool
    people_range: tuple[float, float] | None = None

    def label(self, say: Say = str) -> str:
        """What it is called and of how many people it tells, each part said by `say`."""
        people = say(f"{self.people_at_least}+ people").replace(" ", "\N{NO-BREAK SPACE}")
        licensed = say("licensed site") if self.licensed else ""
        return ", ".join(filter(None, (say(self.name), self.sensor_model, licensed, people)))

    @property
    def reads(self) -> str:
        sign = "+" if self.signed and self.value > 0 else ""
        return f"{sign}{number(self.value)} ({number(self.lower)} to {number(self.upper)})"


def marks_of(document: dict, table: str) -> list[Mark]:
    """The rows of a table that a chart shows: the smallest value of each sensor model first.

    Of contrasts the primary ones over all sensor models, as far as there are any; of shares those over all sensor
    models that have an interval; of parts those of all sites together where they are told, in the order of the table.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    if table not in SHOWN:
        raise InvalidInput(f"no such chart; choose one of {', '.join(SHOWN)}")
    rows, figure = table_rows(document, table), SHOWN[table].figure
    if table == "contrasts":
        primary = [row for row in rows if row["primary"]] or rows
        overall = [row for row in primary if row["sensor_model"] is None]
        marks = [_contrast_mark(row) for row in overall or primary]
    elif table in _PART_COLUMNS:
        whole = [row for row in rows if row["mard_pct"] is None] or rows
        return [_mark(row, table) for row in whole]
    elif table in ("survival", "skin", "lows"):
        marks = [_mark(row, table) for row in rows if row["sensor_model"] is None and "lower" in (row[figure] or {})]
    else:
        marks = [_mark(row, table) for row in rows]
    return sorted(marks, key=lambda mark: (mark.sensor_model or "", mark.value, mark.name))


def more_to_know(document: dict, table: str) -> list[str]:
    """What else has to be known to read the picture, a sentence each."""
    chosen = any(row.get("basis") == BASIS_CHOICE for row in table_rows(document, table))
    ranges = any(mark.people_range for mark in marks_of(document, table))
    told = [
        ("Some differences rest partly on who chose which site.", chosen),
        ("Pale bars hold four people in five, each for themselves.", ranges),
    ]
    return [sentence for sentence, holds in told if holds]


def finding(document: dict, table: str) -> str:
    """What the chart shows, in one sentence.

    Raises
    ------
    InvalidInput
        If there is no such chart.
    """
    marks = marks_of(document, table)
    if not marks:
        return NO_ROWS
    return _contrast_finding(marks) if table == "contrasts" else _site_finding(marks, SHOWN[table].called)


def _mark(row: dict, table: str) -> Mark:
    figure, people = row[SHOWN[table].figure], row["people"]["at_least"]
    ends, spread = (figure["value"], figure["lower"], figure["upper"]), row.get("people_range_pct")
    part = PART_NAMES.get(row.get(_PART_COLUMNS.get(table, ""), ""), "")
    return Mark(
        f"{part}, {row['label']}" if part else row["label"],
        row["sensor_model"],
        *ends,
        people,
        row.get("licensed") is True,
        signed=table in _PART_COLUMNS,
        people_range=(spread["lower"], spread["upper"]) if spread else None,
    )


def _contrast_mark(row: dict) -> Mark:
    figure, people = row["difference_points"], row["people"]["at_least"]
    ends = figure["value"], figure["lower"], figure["upper"]
    return Mark(f"{row['label_a']} against {row['label_b']}", row["sensor_model"], *ends, people, False, signed=True)


def _site_finding(marks: Sequence[Mark], called: str) -> str:
    first, last = min(marks, key=lambda mark: mark.value), max(marks, key=lambda mark: mark.value)
    if len(marks) == 1:
        return f"{capitalised(called)} is {_told(first)}, the only row."
    if first.value == last.value:
        return (
            f"{capitalised(called)} is {number(first.value)} for all {len(marks)} rows, as far as figures are rounded."
        )
    apart = first.upper < last.lower
    return (
        f"Of {len(marks)} rows, {called} is smallest for {_told(first)}, and largest for {_told(last)}; "
        f"these two 95 % intervals {'do not overlap' if apart else 'overlap'}."
    )


def _contrast_finding(marks: Sequence[Mark]) -> str:
    clear = sum(mark.lower > 0 or mark.upper < 0 for mark in marks)
    largest = max(marks, key=lambda mark: abs(mark.value))
    return (
        f"Of {len(marks)} comparisons, {clear} have a 95 % interval that leaves out zero; the largest difference in "
        f"expected MARD, in points, is that of {_told(largest)}."
    )


def number(value: float) -> str:
    """As published, with a true minus sign."""
    return f"{value}".replace("-", "−")


def _told(mark: Mark) -> str:
    model = f", {mark.sensor_model}" if mark.sensor_model else ""
    return f"{mark.name}{model}: {mark.reads}, at least {mark.people_at_least} people"
