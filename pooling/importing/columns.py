"""What a column seems to hold, from its cells and its header words; and the role that follows."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pooling.importing import words
from pooling.importing.moments import take_apart
from pooling.importing.table import column_of
from pooling.importing.types import NUMBER
from pooling.importing.values import EMPTY, values

_MOST = 0.6  # of the filled cells; the rest may be totals, remarks, repeated headers
_BOTH = 0.8
_GREATEST_READING = 600


@dataclass(frozen=True, slots=True)
class Look:
    """One column seen in a sample of its rows: `content` is what most cells are, `n` how many are filled."""

    header: str
    content: str
    n: int
    unit: str | None
    words: frozenset[str]
    plausible: bool

    def says(self, stems: frozenset[str]) -> bool:
        return words.says(self.header, stems)


def look(header: str, cells: Sequence[str]) -> Look:
    """Judge a column by its filled cells."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    said = frozenset(filled) if filled else frozenset()
    units = {words.unit_in(cell) for cell in said} - {None}
    unit = words.unit_in(header) or (units.pop() if len(units) == 1 else None)
    content, plausible = _content(filled, words.says(header, words.MOMENT)) if filled else ("empty", False)
    return Look(header, content, len(filled), unit, said if content == "words" else frozenset(), plausible)


def _content(filled: list[str], called_time: bool) -> tuple[str, bool]:
    parts, read = take_apart(filled), values(filled, ",")
    n_told = max(len(filled) - int((read.kind == EMPTY).sum()), 1)
    numeric = read.kind == NUMBER
    dated, timed = parts.dated.mean(), parts.timed.mean()
    short = numeric & ~(read.number > 1e5)  # 20310301 is a day, 5.40 is hardly a time
    if not (short.mean() > _MOST and not called_time):
        if (parts.dated & parts.timed).mean() > _MOST:
            # A spreadsheet may write a day as its midnight.
            return ("moment" if parts.second.max() > 0 else "date"), False
        if dated > _MOST:
            return "date", False
        if timed > _MOST:
            return "time_of_day", False
    if (read.kind >= NUMBER).sum() > _MOST * n_told and numeric.any():
        fits = (read.number[numeric] >= 1) & (read.number[numeric] <= _GREATEST_READING)
        return "number", bool(fits.mean() > _BOTH)
    return "words", False


def roles_of(looks: Sequence[Look]) -> tuple[list[str], list[tuple[int, ...]]]:
    """A role for each column, and groups of columns between which only the person can choose."""
    roles = ["ignored"] * len(looks)
    open_choices: list[tuple[int, ...]] = []
    for place, seen in enumerate(looks):
        roles[place] = _labelled(seen)
    _settle_readings(looks, roles, open_choices)
    _settle_times(looks, roles, open_choices)
    for role in ("replicate", "elapsed", "wear", "prompt", "site", "instrument", "inserted", "ended"):
        for place in [place for place, given in enumerate(roles) if given == role][1:]:
            roles[place] = "ignored"
    return roles, open_choices


def _labelled(seen: Look) -> str:
    """The role that a column has on its own, "ignored" where only its neighbours can tell."""
    if seen.content in ("moment", "date"):
        return next(
            (r for r, stems in (("inserted", words.INSERTED), ("ended", words.ENDED)) if seen.says(stems)), "ignored"
        )
    if seen.content != "empty" and seen.says(words.WEAR) and not seen.says(words.ELAPSED):
        return "wear"
    if seen.content != "empty" and seen.says(words.ELAPSED):
        return "elapsed"
    if seen.content == "number" and seen.plausible:
        return _reading(seen)
    if seen.content == "words":
        return _worded(seen)
    return "ignored"


def _reading(seen: Look) -> str:
    if seen.says(words.REPLICATE) and seen.says(words.GLUCOSE | words.REFERENCE | words.VALUE):
        return "replicate"
    if seen.says(words.SENSOR):
        return "sensor"
    if seen.says(words.REFERENCE):
        return "reference"
    return "glucose" if seen.says(words.GLUCOSE) or seen.unit else "ignored"


def _worded(seen: Look) -> str:
    about_instrument = [cell for cell in seen.words if words.says(cell, words.SENSOR | words.REFERENCE)]
    prompts = [cell for cell in seen.words if any(words.says(cell, stems) for stems in words.PROMPTED.values())]
    if len(about_instrument) > _MOST * len(seen.words) and not seen.says(words.SITE):
        return "instrument"
    if seen.says(words.PROMPT) or len(prompts) > _MOST * len(seen.words):
        return "prompt"
    return "site" if seen.says(words.SITE) else "ignored"


def _settle_readings(looks: Sequence[Look], roles: list[str], open_choices: list[tuple[int, ...]]) -> None:
    if not {"sensor", "reference", "glucose"} & set(roles):
        spare = [k for k, seen in enumerate(looks) if roles[k] == "ignored" and seen.plausible]
        spare = [k for k in spare if looks[k].says(words.VALUE)] or spare
        if len(spare) == 1:
            roles[spare[0]] = "glucose"
        elif spare:
            open_choices.append(tuple(spare))
    for role in ("sensor", "reference", "glucose"):
        _keep_one(looks, roles, role, open_choices)
    if "glucose" in roles:
        place = roles.index("glucose")
        if "sensor" in roles and "reference" not in roles:
            roles[place] = "reference"
        elif "reference" in roles and "sensor" not in roles:
            roles[place] = "sensor"
        elif "reference" in roles:
            roles[place] = "ignored"


def _keep_one(looks: Sequence[Look], roles: list[str], role: str, open_choices: list[tuple[int, ...]]) -> None:
    """Of columns with the same role the fullest stays; near ties in one unit are left to the person."""
    places = [place for place, given in enumerate(roles) if given == role]
    if len(places) < 2:
        return
    best = max(places, key=lambda place: looks[place].n)
    rivals = [k for k in places if looks[k].n >= _BOTH * looks[best].n]
    if len({looks[k].unit for k in rivals}) < len(rivals):
        open_choices.append(tuple(rivals))
    for place in places:
        roles[place] = role if place == best else "ignored"


def _settle_times(looks: Sequence[Look], roles: list[str], open_choices: list[tuple[int, ...]]) -> None:
    def free(content: str) -> list[int]:
        found = [k for k, seen in enumerate(looks) if seen.content == content and roles[k] == "ignored"]
        called = [k for k in found if looks[k].says(words.MOMENT)]
        return called or found

    whole, days, hours = free("moment"), free("date"), free("time_of_day")
    if whole:
        roles[whole[0]] = "moment"
        if len(whole) > 1:
            open_choices.append(tuple(whole))
    elif days and hours:
        roles[days[0]], roles[hours[0]] = "date", "time_of_day"
    elif "elapsed" not in roles and "inserted" in roles and looks[roles.index("inserted")].content == "moment":
        roles[roles.index("inserted")] = "moment"  # "start" of what, if there is no other time?
    elif days and "elapsed" not in roles:
        roles[days[0]] = "date"


def sample_of(rows: Sequence[tuple[str, ...]], width: int, most: int) -> list[list[str]]:
    """Columns of at most so many rows, spread evenly."""
    chosen = [rows[place] for place in np.unique(np.linspace(0, len(rows) - 1, min(most, len(rows))).astype(int))]
    return [column_of(chosen, column) for column in range(width)]
