"""What every column of an edition's tables means, as a Data Package with a Table Schema for each table.

Source of the form: Frictionless Data Package and Table Schema, version 1 (specs.frictionlessdata.io).
"""

import re
from collections.abc import Mapping
from typing import Any

from pooling.edition.document import TABLES, sha256_hex
from pooling.edition.sheet import columns_of
from pooling.errors import InvalidInput

TITLES: Mapping[str, str] = {
    "sites": "Sites, over all sensor models",
    "sites_by_model": "Sites, each sensor model by itself",
    "contrasts": "Sites set against each other",
    "phases": "Day by day of wear",
    "ranges": "At low, middle and high glucose",
    "prompts": "Why the finger was pricked",
    "lows": "Lows missed and false lows",
    "lots": "Sites by lot against chosen sites",
    "when_the_sensor_says": "When the sensor says",
    "survival": "How long sensors stay on",
    "skin": "How the skin takes it",
    "ratings": "What wearers say of it",
}
_WORDS: Mapping[str, str] = {
    "group": "Short name of the group",
    "edition": "Number of the edition",
    "site": "Site on the body; empty where wears of a region, or of rare sites, are pooled",
    "region": "Part of the body",
    "label": "The site in plain words",
    "site_a": "The first of two sites",
    "site_b": "The second of two sites",
    "label_a": "The first site in plain words",
    "label_b": "The second site in plain words",
    "sensor_model": "Sensor model of the catalogue; empty where all are taken together",
    "licensed": "Whether the instructions name the site for all wearers of the group; empty where that differs",
    "primary": "Whether this sets a site that the instructions do not name against one that they do",
    "people_at_least": "At least as many people are behind the row",
    "people_below": "Fewer people than this are behind the row; empty where no upper end is told",
    "mard_pct": "Expected difference from the fingerstick (MARD) of a new wearer's new wear, per reading",
    "bias_pct": "How far readings tend to lie above (positive) or below the fingerstick, as a median",
    "within_15_15_pct": "Readings within 15 mg/dL below 100 mg/dL, and within 15 % from there on",
    "within_20_20_pct": "Readings within 20 mg/dL below 100 mg/dL, and within 20 % from there on",
    "people_range_from_pct": "Lower end of the MARD of 80 of 100 people",
    "people_range_to_pct": "Upper end of the MARD of 80 of 100 people",
    "far_per_1000_at_most": "Upper 95 % limit of readings in zones C to E of the consensus grid, of 1,000",
    "n_wears": "Wears, to the nearest five",
    "n_pairs": "Pairs of fingerstick and reading, to the nearest five",
    "how_sure": "How sure the expected difference is, in words, by a stated rule; no clinical grading",
    "difference_points": "Expected MARD of the first site less that of the second, in percentage points",
    "p_a_better_frac": "How probably the first site is nearer to the fingerstick, 0 to 1",
    "overall_points": "The same by the fit in which the means of all wearers weigh as much as people who wore both",
    "fits_part": "Whether the two lie further apart than a quarter of the first one's interval",
    "basis": "Whether the difference comes from people who wore both, or rests partly on who chose which",
    "phase": "Days of the wear: day1, days2_7, day8_on; all_days_alike counts each day worn the same",
    "range": "Fingerstick: reference_low below 70 mg/dL, reference_high above 180, reference_mid between",
    "prompt": "Why the finger was pricked: scheduled beforehand, or in doubt of the sensor",
    "against_all_points": "MARD in the part less that of all readings of the row's sites, in percentage points",
    "against_scheduled_points": "MARD in doubt less that of scheduled readings, in percentage points",
    "share_pct": "Share of the readings that lie in the part; told over all sites together only",
    "lows_missed_pct": "Of 100 fingersticks below 70 mg/dL, those at which the sensor showed no value below 70",
    "false_lows_pct": "Of 100 sensor readings below 70 mg/dL, those whose fingerstick was 70 or more",
    "lot_less_chosen_points": "MARD of wears whose site was drawn by lot less that of chosen ones, in points",
    "on_rated_pct": "Sensors still on at the end of their rated life, of 100",
    "off_adhesive_pct": "Early ends because the sensor came off or was knocked off, of 100 wears",
    "off_device_pct": "Early ends because sensor or signal failed, of 100 wears",
    "off_body_pct": "Early ends because of skin or pain, of 100 wears",
    "off_other_pct": "Early ends in another way, of 100 wears",
    "reaction_pct": "People with redness or itch for hours or worse (grade 2 and above), of 100",
    "rating": "What was rated",
    "mean_points": "Mean rating, 0 worst to 10 best",
    "caution": "The caution; it belongs to every figure",
}
_BOUND = "is, at_least or at_most: whether the column before it is an estimate or only a bound of it"
_ENDS = {"_lower_95": "Lower", "_upper_95": "Upper"}
_WHOLE = frozenset(("edition", "people_at_least", "people_below", "n_wears", "n_pairs"))
_YES_NO = frozenset(("licensed", "primary", "fits_part"))
_NUMBER = re.compile(r"_(pct|points|frac|mg_dl|at_most)$")


def data_package(document: dict[str, Any], tables: Mapping[str, bytes], *, drawn_with: str) -> dict[str, Any]:
    """The descriptor of an edition's tables.

    Parameters
    ----------
    document
        An edition document.
    tables
        Each table's file by its path, as `tables/sites.csv`.
    drawn_with
        Version of the library that drew the charts beside them.
    """
    group, number = document["group"], document["number"]
    return {
        "profile": "tabular-data-package",
        "name": f"{group['slug']}-edition-{number}",
        "title": f"{group['name']}, edition {number}",
        "description": document["caution"]["text"],
        "version": str(number),
        "licenses": [{"path": "TERMS.txt", "title": "Terms of use"}],
        "sources": [{"title": "edition.json, the edition's document", "path": "edition.json"}],
        "drawn_with": drawn_with,
        "resources": [_resource(table, tables[table_path(table)]) for table in TABLES],
    }


def table_path(table: str) -> str:
    return f"tables/{table}.csv"


def _resource(table: str, content: bytes) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.replace("_", "-"),
        "title": TITLES[table],
        "path": table_path(table),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{sha256_hex(content)}",
        "schema": {"fields": [column_schema(column) for column in columns_of(table)], "missingValues": [""]},
    }


def column_schema(column: str) -> dict[str, Any]:
    """Name, type and meaning of one column.

    Raises
    ------
    InvalidInput
        If nobody has said what the column means.

    Examples
    --------
    >>> column_schema("mard_lower_95_pct")["description"][:40]
    'Lower end of the 95 % interval of mard_p'
    """
    described = {"name": column, "description": _meaning(column)}
    if column.endswith("_is"):
        return {**described, "type": "string", "constraints": {"enum": ["estimate", "at_least", "at_most"]}}
    if column in _YES_NO:
        return {**described, "type": "boolean", "trueValues": ["yes"], "falseValues": ["no"]}
    if column in _WHOLE:
        return {**described, "type": "integer"}
    return {**described, "type": "number" if _NUMBER.search(column) else "string"}


def _meaning(column: str) -> str:
    if column in _WORDS:
        return _WORDS[column]
    for suffix, which in _ENDS.items():
        if suffix in column:
            return f"{which} end of the 95 % interval of {column.replace(suffix, '')}"
    if column.endswith("_is"):
        return f"Estimate{_BOUND.removeprefix('is')}"
    shown = re.fullmatch(r"shows_at_(\d+)_(from|to)_mg_dl", column)
    if shown:
        end = "Lower" if shown[2] == "from" else "Upper"
        return f"{end} end of what the sensor mostly shows, 80 times of 100, at a fingerstick of {shown[1]} mg/dL"
    said = re.fullmatch(r"fingerstick_at_(\d+)_(from|to)_mg_dl", column)
    if said:
        end = "Lower" if said[2] == "from" else "Upper"
        return f"{end} end of what the fingerstick mostly was, 80 times of 100, when the sensor showed {said[1]} mg/dL"
    day = re.fullmatch(r"on_day_(\d+)_pct", column)
    if day:
        return f"Sensors still on at day {day[1]}, of 100 that are rated to last so long"
    raise InvalidInput(f"nobody has said what the column {column} means")
