"""The figures of an own report as rows of words, in the reader's unit; text and page show the same rows."""

from typing import Any

from pooling.units import DECIMALS, MG_DL, from_mg_dl, glucose_text

Rows = list[tuple[str, str]]


def figure_rows(report: dict[str, Any], unit: str) -> Rows:
    """What was counted and, where there is a pair to measure, what was measured."""
    rows = [
        ("site", report["site_label"]),
        ("worn", f"{report['worn_days']:.1f} days, {report['ended']}"),
        ("pairs measured", str(report["n_pairs"])),
        ("sensor out of its range", str(report["n_out_of_range"])),
        ("fingersticks that calibrated it", str(report["n_calibrating"])),
    ]
    return [*rows, *_measured(report, unit)] if report["n_pairs"] else rows


def _measured(report: dict[str, Any], unit: str) -> Rows:
    interval = report.get("intervals", {}).get("mard_pct")
    could_be = "" if interval is None else f", could be {interval[0]:.1f} to {interval[1]:.1f} %"
    lows = report["lows"]
    return [
        ("average difference (MARD)", f"{report['mard_pct']:.1f} %{could_be}"),
        ("median difference", f"{report['median_ard_pct']:.1f} %"),
        ("average difference in glucose", f"{_difference(report['mad_mg_dl'], unit)} {unit}"),
        ("on average the sensor read", _direction(report["bias_mg_dl"], unit)),
        (f"within {limits_text(15, unit)}", f"{report['within_15_15_pct']:.0f} % of the pairs"),
        (f"within {limits_text(20, unit)}", f"{report['within_20_20_pct']:.0f} % of the pairs"),
        ("consensus error grid (A is closest)", _zones(report["consensus_zones_pct"])),
        ("Clarke error grid (A is closest)", _zones(report["clarke_zones_pct"])),
        (f"fingersticks below {_low_edge(unit)}", _seen(lows)),
        ("lows only the sensor showed", str(lows["n_shown_low_only"])),
    ]


def _difference(mg_dl: float, unit: str) -> str:
    """A difference, with one decimal more than a display has."""
    return f"{float(from_mg_dl(mg_dl, unit)):.{DECIMALS[unit] + 1}f}"


def _direction(bias_mg_dl: float, unit: str) -> str:
    size = _difference(abs(bias_mg_dl), unit)
    if not float(size):
        return "as the fingerstick"
    return f"{size} {unit} {'higher' if bias_mg_dl > 0 else 'lower'} than the fingerstick"


def limits_text(points: int, unit: str) -> str:
    """The limits of agreement 15/15 and 20/20 by their two numbers.

    >>> limits_text(15, "mg/dL"), limits_text(15, "mmol/L")
    ('15 mg/dL or 15 %', '0.83 mmol/L or 15 %')
    """
    size = str(points) if unit == MG_DL else f"{float(from_mg_dl(points, unit)):.2f}"
    return f"{size} {unit} or {points} %"


def _low_edge(unit: str) -> str:
    return f"{glucose_text(70, unit)} {unit}"


def _seen(lows: dict[str, int]) -> str:
    n_low = lows["n_low_by_reference"]
    return f"{n_low}, of them the sensor showed {lows['n_of_them_shown_low']} as low" if n_low else "none"


def _zones(shares: dict[str, float]) -> str:
    return ", ".join(f"{zone} {share:.0f} %" for zone, share in shares.items())
