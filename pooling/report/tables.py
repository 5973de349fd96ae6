"""The figures of a report as tables of words, in the reader's unit: what stands beside each chart."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pooling.errorgrids import ZONES
from pooling.report.figures import BANDS
from pooling.report.words import at_levels, group_labels, rules, span
from pooling.units import DECIMALS, difference_text, from_mg_dl, glucose_text
from pooling.vocabulary import capitalised

NO_FIGURE = "too few"


@dataclass(frozen=True, slots=True)
class Table:
    """Words in rows; the first cell of each row names it."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def levels(report: dict[str, Any], unit: str) -> Table:
    shows = [
        (f"fingerstick {glucose_text(entry['reference_mg_dl'], unit)}", f"sensor {span(entry, unit)}")
        for entry in at_levels(report["shows"], unit)
    ]
    means = [
        (f"sensor {glucose_text(entry['sensor_mg_dl'], unit)}", f"fingerstick {span(entry, unit)}")
        for entry in at_levels(report["means"], unit)
    ]
    return Table("Four in five times", ("when one says", "the other says"), (*shows, *means))


def groups(report: dict[str, Any], unit: str, kinds: Sequence[str], caption: str) -> Table:
    labels = group_labels(unit)
    rows = tuple(
        (labels[group["name"]], str(group["n_pairs"]), *_group(group))
        for kind in kinds
        for group in report["groups"][kind]
        if group["n_pairs"]
    )
    return Table(caption, ("fingersticks", "pairs", "MARD (could be)", "bias"), rows)


def _group(group: dict[str, Any]) -> tuple[str, str]:
    if group["mard_pct"] is None:
        return (NO_FIGURE, "")
    could_be = f" ({_interval(group['mard_interval_pct'], '')})" if group["mard_interval_pct"] else ""
    return (f"{group['mard_pct']:.1f} %{could_be}", f"{_signed(group['relative_bias_pct'], 1)} %")


def zones(report: dict[str, Any]) -> Table:
    rows = tuple(
        (zone, *(f"{report[name][zone]:.1f} %" for name in ("consensus_zones_pct", "clarke_zones_pct")))
        for zone in ZONES
    )
    return Table("Share of the pairs in each zone; A is closest", ("zone", "consensus grid", "Clarke grid"), rows)


def lows(report: dict[str, Any]) -> Table:
    found = report["lows"]
    by_reference, by_sensor = found["n_low_by_reference"], found["n_low_by_sensor"]
    missed, false = by_reference - found["n_of_them_shown_low"], found["n_shown_low_only"]
    return Table(
        "By fingerstick and by sensor",
        ("lows", "how many", "could be, in the long run"),
        (
            ("low by the fingerstick", str(by_reference), ""),
            ("of these missed by the sensor", str(missed), _interval(found["missed_interval_pct"], " %", 0)),
            ("low by the sensor", str(by_sensor), ""),
            ("of these not confirmed by the fingerstick", str(false), _interval(found["false_interval_pct"], " %", 0)),
        ),
    )


def measures(report: dict[str, Any], unit: str) -> Table:
    """Every measure of agreement with its margin and its rule."""
    said, intervals = rules(unit), report.get("intervals", {})
    by_band = {f"within_{band}_{band}_pct": f"{band}/{band}: " for band in BANDS}
    names = ["mard_pct", "median_ard_pct", "mad_mg_dl", "bias_mg_dl", "relative_bias_pct", *by_band]
    rows = tuple(
        (
            capitalised(by_band.get(name, "") + said[name]),
            _measure(name, report[name], unit),
            _measures(name, intervals.get(name), unit),
        )
        for name in names
    )
    return Table("Every measure, and how it is worked out", ("measure", "here", "could be"), rows)


def _measure(name: str, value: float, unit: str) -> str:
    if name.endswith("_mg_dl"):
        text = signed(value, unit) if name == "bias_mg_dl" else difference_text(value, unit)
        return f"{text} {unit}"
    return f"{_signed(value, 1) if name == 'relative_bias_pct' else f'{value:.1f}'} %"


def _measures(name: str, interval: Sequence[float] | None, unit: str) -> str:
    if interval is None:
        return NO_FIGURE
    low, high = (_measure(name, end, unit) for end in interval)
    return f"{low.rpartition(' ')[0]} to {high}"


def limits(report: dict[str, Any], unit: str) -> Table:
    in_glucose, in_pct = report["limits"]["mg_dl"], report["limits"]["pct"]
    rows = tuple(
        (
            label,
            f"{signed(in_glucose[name], unit)} ({_signed_pair(in_glucose[f'{name}_ci'], unit)})",
            f"{_signed(in_pct[name], 1)} % ({_signed_ends(in_pct[f'{name}_ci'], 1)})",
        )
        for label, name in (("upper limit", "upper"), ("average", "bias"), ("lower limit", "lower"))
    )
    caption = f"Sensor minus fingerstick, {report['limits']['n_pairs']} pairs on {report['limits']['n_days']} days"
    return Table(caption, ("limit", f"{unit} (95 %)", "per cent (95 %)"), rows)


def lines(report: dict[str, Any], unit: str) -> Table:
    rows = tuple(_line(label, report["lines"][name], unit) for label, name in _LINES)
    caption = f"Sensor = intercept + slope × fingerstick, {report['lines']['n_pairs']} pairs"
    return Table(caption, ("line", "slope (95 %)", f"intercept, {unit} (95 %)"), rows)


_LINES = (("Deming", "deming"), ("Passing–Bablok", "passing_bablok"))


def _line(label: str, line: dict[str, Any] | None, unit: str) -> tuple[str, str, str]:
    if line is None:
        return (label, "these pairs give none", "")
    slope = f"{line['slope']:.2f} ({line['slope_ci'][0]:.2f} to {line['slope_ci'][1]:.2f})"
    intercept = f"{signed(line['intercept_mg_dl'], unit)} ({_signed_pair(line['intercept_ci_mg_dl'], unit)})"
    return (label, slope, intercept)


def wear(report: dict[str, Any]) -> Table:
    """What is known of the wear apart from its readings."""
    rows = [
        ("site", ", ".join(filter(None, (report["site_label"], report["side"])))),
        ("sensor model", report["sensor_model"]),
        ("on the skin", f"for {report['worn_days']:.1f} days, {report['ended']}"),
        ("pairs measured", str(report["n_pairs"])),
        ("sensor out of its range", str(report["n_out_of_range"])),
        ("fingersticks that calibrated it", str(report["n_calibrating"])),
    ]
    rows += [(f"day {event['day']}", event["what"]) for event in report["events"]]
    if skin := report["skin"]:
        rows.append(("skin", "; ".join([skin["says"], *skin["signs"]])))
    if ratings := report["ratings"]:
        given = [f"{name} {ratings[name]}" for name in ("ease", "comfort", "discretion") if ratings[name] is not None]
        rows.append(("rated, 0 worst to 10 best", ", ".join(given) or "not rated"))
    return Table("As recorded", ("", ""), tuple(rows))


# ---- numbers as words ------------------------------------------------------------------------------------------------


def signed(value_mg_dl: float, unit: str) -> str:
    """A difference with its sign.

    Examples
    --------
    >>> signed(-18.0156, "mmol/L"), signed(4.04, "mg/dL"), signed(-0.01, "mg/dL")
    ('−1.00', '+4.0', '0.0')
    """
    return _signed(float(from_mg_dl(value_mg_dl, unit)), DECIMALS[unit] + 1)


def _signed(value: float, decimals: int) -> str:
    text = f"{abs(value):.{decimals}f}"
    if not float(text):
        return text
    return f"+{text}" if value > 0 else f"−{text}"


def _signed_pair(ends_mg_dl: Sequence[float], unit: str) -> str:
    return _signed_ends([float(from_mg_dl(end, unit)) for end in ends_mg_dl], DECIMALS[unit] + 1)


def _signed_ends(ends: Sequence[float], decimals: int) -> str:
    low, high = (_signed(end, decimals) for end in ends)
    return f"{low} to {high}"


def _interval(ends: Sequence[float] | None, unit: str, decimals: int = 1) -> str:
    return "" if ends is None else f"{ends[0]:.{decimals}f} to {ends[1]:.{decimals}f}{unit}"
