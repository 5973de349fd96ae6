"""Pairs typed line by line: read leniently, and given back as they were typed. Two pages take them."""

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Final, Self

from django.utils.translation import gettext as _

from server.core.glucose import UNITS

FIRST_LINES: Final = 10
MORE_LINES: Final = 10
LONGEST_TEXT: Final = 40


@dataclass(frozen=True, slots=True)
class Row:
    """One line, with what is wrong in it."""

    number: int
    typed: Mapping[str, str]
    faults: Mapping[str, str] = field(default_factory=dict)

    @property
    def blank(self) -> bool:
        return not any(self.typed[name] for name in ("reference", "sensor", "sensor_mark"))

    def readings(self) -> tuple[float | None, float | None, dict[str, str]]:
        """Fingerstick and sensor, None where there is no number, and what has to be put right in them."""
        reference, sensor = number(self.typed["reference"]), number(self.typed["sensor"])
        wrong = {}
        if reference is None:
            wrong["reference"] = _("Type the number on the meter's display.")
        if sensor is None and (self.typed["sensor"] or not self.typed["sensor_mark"]):
            wrong["sensor"] = _("Type the number on the sensor's display, or choose that it showed none.")
        return reference, sensor, wrong


@dataclass(frozen=True)
class Lines:
    """The whole page as it was sent, or as it is before anything was typed."""

    COLUMNS: ClassVar[tuple[str, ...]]
    BESIDE: ClassVar[tuple[str, ...]]
    MOST: ClassVar[int]

    unit: str
    rows: tuple[Row, ...]
    faults: Collection[str] = ()

    @classmethod
    def empty(cls, unit: str) -> Self:
        return cls.read({}, unit=unit)

    @classmethod
    def read(cls, sent: Mapping[str, str], *, unit: str) -> Self:
        """The page as sent; `unit` is the reader's own where it names none."""
        asked, named = _told(sent, "rows"), _told(sent, "unit")
        n_rows = min(int(asked), cls.MOST) if asked.isdecimal() else FIRST_LINES
        rows = ({name: _told(sent, f"{name}-{n}") for name in cls.COLUMNS} for n in range(1, n_rows + 1))
        return cls(
            unit=named if named in UNITS else unit,
            rows=tuple(Row(n, typed) for n, typed in enumerate(rows, start=1)),
            **{name: _told(sent, name) for name in cls.BESIDE},
        )

    @property
    def n_faults(self) -> int:
        return len(self.faults) + sum(len(row.faults) for row in self.rows)

    @property
    def with_room(self) -> Self:
        """The same with more empty lines below."""
        nothing = dict.fromkeys(self.COLUMNS, "")
        n_rows = min(len(self.rows) + MORE_LINES, self.MOST)
        return replace(self, rows=(*self.rows, *(Row(n + 1, nothing) for n in range(len(self.rows), n_rows))))

    def with_days(self) -> Iterator[tuple[Row, str]]:
        """Each line and its day; one that was left open is the day of the line above it."""
        day = "1"
        for row in self.rows:
            day = row.typed["day"] or day
            yield row, day


def number(text: str) -> float | None:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _told(sent: Mapping[str, str], name: str) -> str:
    return sent.get(name, "").strip()[:LONGEST_TEXT]
