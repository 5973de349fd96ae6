"""A table of an edition as a sheet: CSV for people with spreadsheets and for programs alike."""

import rfc8785

from pooling.cells import inert
from pooling.edition.document import table_rows
from pooling.edition.rows import SHOWN_REFERENCES_MG_DL
from pooling.errors import InvalidInput
from pooling.outcomes.survival import ENDS
from pooling.parts import SHOWN_MG_DL
from pooling.sealing.version import DAYS_ON

_FIGURE_PARTS = (("value", ""), ("lower", "_lower_95"), ("upper", "_upper_95"))


def table_csv(document: dict, table: str) -> str:
    """One table of the document as CSV (RFC 4180): a header line, one line a row, and nothing else.

    Units stand in the column names, lists of figures become columns, an absent figure is an empty cell. The last column
    repeats the caution on every line, so that no line can be copied away from it. A table without rows has one line
    with the caution and no figure: no file goes out without it.

    Raises
    ------
    InvalidInput
        If there is no such table.
    """
    import pandas as pd  # when it is first needed: a service that hands out no sheet does not carry it

    rows = table_rows(document, table)
    columns = _COLUMNS[table]
    about = {
        "group": document["group"]["slug"],
        "edition": document["number"],
        "caution": " ".join(document["caution"]["text"].split()),
    }
    lines = [about | _flat(row) for row in rows or ({},)]
    # Every cell is text already, as the document has it: nothing is left for pandas to round or to guess.
    frame = pd.DataFrame([[_text(line.get(column)) for column in columns] for line in lines], columns=columns)
    return str(frame.to_csv(index=False, lineterminator="\r\n"))


def columns_of(table: str) -> tuple[str, ...]:
    """The columns of a table's sheet, in their order."""
    return _COLUMNS[table]


def _figure_columns(*names: str) -> tuple[str, ...]:
    return tuple(_suffixed(name, suffix) for name in names for _, suffix in _FIGURE_PARTS)


def _suffixed(name: str, suffix: str) -> str:
    """The unit stays at the end of the name: mard_pct becomes mard_lower_95_pct."""
    stem, _, unit = name.rpartition("_")
    return f"{stem}{suffix}_{unit}"


def _share_columns(*names: str) -> tuple[str, ...]:
    """Shares of people, each with a column that says whether its value is an estimate or a bound."""
    return tuple(column for name in names for column in (*_figure_columns(name), _bound_column(name)))


def _bound_column(name: str) -> str:
    return name.rpartition("_")[0] + "_is"


_ABOUT = ("group", "edition")
_WHERE = ("site", "region", "label", "sensor_model")
_PEOPLE = ("people_at_least", "people_below")
_SITE_COLUMNS = (
    *_ABOUT,
    *_WHERE,
    "licensed",
    *_PEOPLE,
    *_figure_columns("mard_pct", "bias_pct", "within_15_15_pct", "within_20_20_pct"),
    "people_range_from_pct",
    "people_range_to_pct",
    *(f"shows_at_{ref}_{end}_mg_dl" for ref in SHOWN_REFERENCES_MG_DL for end in ("from", "to")),
    *_share_columns("on_rated_pct"),
    "far_per_1000_at_most",
    "n_wears",
    "n_pairs",
    "how_sure",
    "caution",
)
_CONTRAST_COLUMNS = (
    *_ABOUT,
    "site_a",
    "site_b",
    "label_a",
    "label_b",
    "sensor_model",
    "primary",
    *_PEOPLE,
    *_figure_columns("difference_points", "overall_points"),
    "fits_part",
    "p_a_better_frac",
    "p_a_better_is",
    "basis",
    "caution",
)
_SURVIVAL_FIGURES = (
    *(f"on_day_{day}_pct" for day in DAYS_ON),
    "on_rated_pct",
    *(f"{end}_pct" for end in ENDS),
)
_PART_FIGURES = _figure_columns("mard_pct", "against_all_points", "within_15_15_pct", "within_20_20_pct", "share_pct")
_LOW_FIGURES = ("lows_missed_pct", "false_lows_pct")
_COLUMNS = {
    "sites": _SITE_COLUMNS,
    "sites_by_model": _SITE_COLUMNS,
    "contrasts": _CONTRAST_COLUMNS,
    "phases": (*_ABOUT, *_WHERE, "phase", *_PEOPLE, *_PART_FIGURES, "caution"),
    "ranges": (*_ABOUT, *_WHERE, "range", *_PEOPLE, *_PART_FIGURES, "caution"),
    "prompts": (
        *_ABOUT,
        *_WHERE,
        "prompt",
        *_PEOPLE,
        *_PART_FIGURES,
        *_figure_columns("against_scheduled_points"),
        "caution",
    ),
    "lows": (*_ABOUT, *_WHERE, *_PEOPLE, *_share_columns(*_LOW_FIGURES), "caution"),
    "lots": (*_ABOUT, *_WHERE, *_PEOPLE, *_figure_columns("lot_less_chosen_points"), "caution"),
    "when_the_sensor_says": (
        *_ABOUT,
        *_WHERE,
        *_PEOPLE,
        *(f"fingerstick_at_{shown}_{end}_mg_dl" for shown in SHOWN_MG_DL for end in ("from", "to")),
        "caution",
    ),
    "survival": (*_ABOUT, *_WHERE, *_PEOPLE, *_share_columns(*_SURVIVAL_FIGURES), "caution"),
    "skin": (*_ABOUT, *_WHERE, *_PEOPLE, *_share_columns("reaction_pct"), "caution"),
    "ratings": (*_ABOUT, *_WHERE, "rating", *_PEOPLE, *_figure_columns("mean_points"), "caution"),
}
_SHARES = frozenset((*_SURVIVAL_FIGURES, "reaction_pct", *_LOW_FIGURES))


def _flat(row: dict) -> dict[str, object]:
    flat: dict[str, object] = {}
    for name, value in row.items():
        if name == "people":
            flat |= {"people_at_least": value["at_least"], "people_below": value["below"]}
        elif name == "people_range_pct":
            flat |= {"people_range_from_pct": value["lower"], "people_range_to_pct": value["upper"]}
        elif name == "p_a_better_frac":
            flat |= {name: value["value"], "p_a_better_is": value.get("bound", "estimate")}
        elif name == "shows":
            for shown in value:
                start = f"shows_at_{shown['reference_mg_dl']}"
                flat |= {f"{start}_from_mg_dl": shown["from_mg_dl"], f"{start}_to_mg_dl": shown["to_mg_dl"]}
        elif name == "says":
            for said in value:
                start = f"fingerstick_at_{said['sensor_mg_dl']}"
                flat |= {f"{start}_from_mg_dl": said["from_mg_dl"], f"{start}_to_mg_dl": said["to_mg_dl"]}
        elif name in ("n_wears", "n_pairs"):
            flat[name] = value["value"]
        elif name == "far_per_1000":
            flat["far_per_1000_at_most"] = value and value["value"]
        elif isinstance(value, dict):
            flat |= {_suffixed(name, suffix): value[part] for part, suffix in _FIGURE_PARTS if part in value}
            flat |= {_bound_column(name): value.get("bound", "estimate")} if name in _SHARES else {}
        else:
            flat[name] = value
    return flat


def _text(value: object) -> str:
    match value:
        case None:
            return ""
        case str():
            return inert(value)
        case bool():
            return "yes" if value else "no"
        case int() | float():
            return rfc8785.dumps(value).decode()
    raise InvalidInput(f"a sheet has no cell for a {type(value).__name__}")
