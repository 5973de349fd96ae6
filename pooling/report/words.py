"""The figures of a report in plain words and in the reader's unit, life units first."""

from typing import Any

from pooling.checks import FEWEST_PAIRS
from pooling.report.figures import BANDS, FAST_MG_DL_MIN
from pooling.report.methods import FEWEST_DAYS_FOR_LIMITS, FEWEST_FOR_LIMITS, FEWEST_FOR_LINES
from pooling.units import HIGH_ABOVE, LOW_BELOW, MG_DL, from_mg_dl, glucose_text

TENDENCY_PCT = 2
WHEN_THEY_DISAGREE = "When symptoms and a reading disagree, check with a fingerstick, whatever the figures here say."

KINDS = {
    "phase": "By day of wear",
    "level": "By level of the fingerstick",
    "rate": "By how fast glucose moved",
    "prompt": "By reason for the fingerstick",
}
OTHER_KINDS = ("level", "rate", "prompt")
"""Those that stand together; days of wear stand apart."""
SAYS_OF_LICENCE = {
    "named": "The sensor's instructions name this site.",
    "off_label": "Off-label: the sensor's instructions do not name this site. How accurate and how safe it is there "
    "has not been established, however good the figures below look.",
    "off_label_for_age": "Off-label: the sensor's instructions name this site, but not for the wearer's age. How "
    "accurate and how safe it is there has not been established, however good the figures below look.",
    "not_known": "Whether the sensor's instructions name this site is not known here. Look there: if they do not, "
    "wearing it there is off-label, and how accurate and how safe it is has not been established.",
}


# ---- sentences -------------------------------------------------------------------------------------------------------


def in_words(report: dict[str, Any], unit: str) -> list[str]:
    """What the figures of a report mean beside a fingerstick, life units first, in the reader's unit.

    Parameters
    ----------
    report
        What `wear_report` gave.
    unit
        "mg/dL" or "mmol/L".

    Returns
    -------
    list of str
        Sentences; none where nothing could be measured.

    Raises
    ------
    InvalidInput
        If there is no such unit.
    """
    if not report["n_pairs"]:
        return []
    if report["n_pairs"] < FEWEST_PAIRS:
        return [_too_few(report, unit), *low_sentences(report["lows"])]
    return [*level_sentences(report, unit), _off_by(report, unit), *low_sentences(report["lows"])]


def level_sentences(report: dict[str, Any], unit: str) -> list[str]:
    """What the sensor mostly showed at a fingerstick, and what the fingerstick mostly was at a sensor reading."""
    shows = [
        f"When the fingerstick was {glucose_text(level['reference_mg_dl'], unit)}, the sensor mostly showed "
        f"{span(level, unit)}."
        for level in at_levels(report["shows"], unit)
    ]
    means = [
        f"When the sensor said {glucose_text(level['sensor_mg_dl'], unit)}, the fingerstick mostly was "
        f"{span(level, unit)}."
        for level in at_levels(report["means"], unit)
    ]
    return shows + means


def at_levels(entries: list[dict[str, Any]], unit: str) -> list[dict[str, Any]]:
    """Those at the round levels of this unit."""
    return [entry for entry in entries if entry["unit"] == unit]


def span(level: dict[str, Any], unit: str) -> str:
    return f"{glucose_text(level['from_mg_dl'], unit)} to {glucose_text(level['to_mg_dl'], unit)} {unit}"


def _too_few(report: dict[str, Any], unit: str) -> str:
    n_pairs = report["n_pairs"]
    if n_pairs == 1:
        return "One pair says next to nothing of how this sensor reads."
    off = glucose_text(report["mad_mg_dl"], unit)
    return (
        f"{n_pairs} pairs are too few to say how this sensor reads. In these, sensor and fingerstick were {off} {unit} "
        "apart on average."
    )


def _off_by(report: dict[str, Any], unit: str) -> str:
    hundred, off = (glucose_text(value, unit) for value in (100, report["mard_pct"]))
    said = (
        f"Beside a fingerstick of {hundred} {unit} the sensor was off by about {off} {unit} on average, and read "
        f"{_tendency(report['relative_bias_pct'])}."
    )
    interval = report.get("intervals", {}).get("mard_pct")
    if interval is None:
        return said
    low, high = (glucose_text(end, unit) for end in interval)
    could = f"anything from {low} to {high}" if low != high else f"a little more or less than {low}"
    return f"{said} From {report['n_pairs']} pairs that average could as well be {could} {unit}."


def _tendency(relative_bias_pct: float) -> str:
    if abs(relative_bias_pct) <= TENDENCY_PCT:
        return "neither high nor low"
    return "rather high" if relative_bias_pct > 0 else "rather low"


def low_sentences(lows: dict[str, Any]) -> list[str]:
    """What became of the lows, counted, and what to do where sensor and fingerstick disagreed; nothing without lows."""
    said, n_missed, false = [], 0, 0
    if n_low := lows["n_low_by_reference"]:
        n_missed = n_low - lows["n_of_them_shown_low"]
        could = _could_be("it misses", lows["missed_interval_pct"])
        seen = f"Of {n_low} low fingersticks, the sensor missed {n_missed or 'none'}"
        if n_low == 1:
            seen = f"One fingerstick was low, and the sensor {'missed it' if n_missed else 'was low as well'}"
        said.append(f"{seen}; {could}.")
    if n_low := lows["n_low_by_sensor"]:
        false, could = lows["n_shown_low_only"], _could_be("are false", lows["false_interval_pct"])
        seen = (
            f"Of {n_low} lows that the sensor showed, {false or 'none'} {'was' if false < 2 else 'were'} false by the "
            "fingerstick"
        )
        if n_low == 1:
            seen = f"The sensor showed one low, and the fingerstick was {'not low' if false else 'low as well'}"
        said.append(f"{seen}; {could}.")
    return [*said, WHEN_THEY_DISAGREE] if n_missed or false else said


def _could_be(what: str, interval_pct: list[float]) -> str:
    low, high = interval_pct
    return f"in the long run those that {what} could be anything from {low:.0f} to {high:.0f} in 100"


# ---- the meter, and what one wear cannot say -------------------------------------------------------------------------


def meter_words(meter: dict[str, Any], mard_pct: float) -> str:
    """How much of the MARD could be the meter's; errors are taken as independent, unbiased and normal (METHODS)."""
    alone, left = meter["mard_of_meter_pct"], meter["mard_without_meter_pct"]
    could = f"Beside such a meter a perfect sensor would still show a MARD of about {alone} %. " + (
        f"Taken out of the {mard_pct:.1f} % seen here, about {left} % would be the sensor's."
        if left
        else f"That is as much as the {mard_pct:.1f} % seen here: the meter alone could explain all of it."
    )
    return f"Part of every difference is the meter's. {_basis(meter)} {could}"


def _basis(meter: dict[str, Any]) -> str:
    cv = f"a scatter of its own of {meter['cv_pct']:.1f} % (coefficient of variation)"
    if meter["basis"] == "replicates":
        return (
            f"{meter['n_replicates']} second strips give the meter {cv}; what both strips have wrong alike, they do "
            "not show."
        )
    band = f"95 % of its readings within {meter['band_pct']} %"
    if meter["basis"] == "class":
        return f"The meter's leaflet promises {band}, if it just keeps that promise."
    return f"How accurate the meter is was not said. If it just meets ISO 15197:2013, it has {band}."


def cannot_say(report: dict[str, Any]) -> list[str]:
    """What one wear cannot tell, whatever its figures."""
    return [
        "One sensor is not the site: two sensors on one site differ, too, and one wear cannot tell which it was.",
        meter_words(report["meter"], report["mard_pct"]) if "meter" in report else "The meter has an error of its own.",
        "A few dozen pairs leave a wide margin: the same sensor, pricked at other moments, would give other figures.",
        "One body is not another: what this site did here says little about what it will do for somebody else.",
    ]


# ---- rules and names -------------------------------------------------------------------------------------------------


def rules(unit: str) -> dict[str, str]:
    """How each figure is worked out, in the reader's unit."""
    low = glucose_text_of_edge(LOW_BELOW, unit)
    return (
        {
            "mard_pct": "MARD: mean of the absolute differences in per cent of the fingerstick",
            "median_ard_pct": "median ARD: median of the same differences",
            "mad_mg_dl": "MAD: mean of the absolute differences",
            "bias_mg_dl": "bias: mean of sensor minus fingerstick",
            "relative_bias_pct": "relative bias: mean of the same differences in per cent of the fingerstick",
            "intervals": "95 %, by drawing the days of the wear again and again (shorter stretches where fewer than "
            "eight days hold a pair); they know nothing of other sensors",
        }
        | {f"within_{band}_{band}_pct": _within(band, unit) for band in BANDS}
        | {
            "consensus_zones_pct": "share of pairs in each zone of the consensus error grid for type 1 diabetes",
            "clarke_zones_pct": "share of pairs in each zone of the Clarke error grid",
            "shows": "where four in five further readings of this sensor would lie, if its relative differences are "
            f"roughly normal; from {FEWEST_PAIRS} pairs on, and only where fingersticks are near",
            "means": "the same the other way round: where four in five fingersticks would lie beside this reading",
            "lows": f"fingersticks below {low} {unit} and what the sensor showed; below its range counts as low; "
            "intervals by Wilson, for these fingersticks taken as independent",
            "groups": f"from {FEWEST_PAIRS} pairs on",
            "limits": "where 95 % of single differences between sensor and fingerstick lie (Bland and Altman, repeated "
            f"pairs of a day); from {FEWEST_FOR_LIMITS} pairs on {FEWEST_DAYS_FOR_LIMITS} days on",
            "lines": "sensor = intercept + slope × fingerstick; Deming takes the errors of both as equally large; from "
            f"{FEWEST_FOR_LINES} pairs on",
            "meter": "what the meter's own error could contribute; formula and assumptions stand in cannot_say",
        }
    )


def _within(band: int, unit: str) -> str:
    switch, narrow = (exact_text(value, unit) for value in (100, band))
    return (
        f"within {narrow} {unit} of fingersticks below {switch} {unit}, within {band} % from {switch} on, ends included"
    )


def exact_text(value_mg_dl: float, unit: str) -> str:
    """A figure of a rule, which a display's rounding would change: 15 mg/dL are 0.83 mmol/L."""
    return f"{value_mg_dl:g}" if unit == MG_DL else f"{float(from_mg_dl(value_mg_dl, unit)):.2f}"


def glucose_text_of_edge(edges: dict[str, float], unit: str) -> str:
    """An agreed edge as it reads in this unit, without converting."""
    return f"{edges[unit]:.0f}" if unit == MG_DL else f"{edges[unit]:.1f}"


def group_labels(unit: str) -> dict[str, str]:
    """What each group of pairs is called."""
    low, high = glucose_text_of_edge(LOW_BELOW, unit), glucose_text_of_edge(HIGH_ABOVE, unit)
    fast = f"{float(from_mg_dl(FAST_MG_DL_MIN, unit)):.2g} {unit}"
    return {
        "day1": "day 1",
        "days2_7": "days 2 to 7",
        "day8_on": "day 8 and later",
        "reference_low": f"below {low} {unit}",
        "reference_mid": f"{low} to {high} {unit}",
        "reference_high": f"above {high} {unit}",
        "falling": f"falling, over {fast} a minute",
        "steady": "steady",
        "rising": f"rising, over {fast} a minute",
        "scheduled": "at planned times",
        "doubt": "in doubt about the reading",
    }
