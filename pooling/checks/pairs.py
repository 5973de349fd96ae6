"""Findings about the pairs as a set: how many, when and why, repeated, outside the wear, rounded."""

from collections.abc import Iterator

import numpy as np

from pooling.checks.finding import FEW_FOR_A_PATTERN, FEWEST_PAIRS, Finding, WearFacts, in_both
from pooling.columns import PairColumns
from pooling.vocabulary import PROMPTS, counted

LOW_MG_DL, HIGH_MG_DL = 70.0, 180.0


def too_few(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """Fewer pairs than the pooled accuracy figures take."""
    n_counted = int(np.sum((columns.mark == 0) & (columns.prompt != PROMPTS.index("calibration"))))
    if n_counted < FEWEST_PAIRS:
        yield Finding(
            "too_few_pairs",
            "note",
            "One pair can be counted." if n_counted == 1 else f"{n_counted} pairs can be counted.",
            f"Accuracy figures take wears with at least {FEWEST_PAIRS} pairs; time on the skin counts all the same.",
            "Nothing needs doing. In a next wear, a few fingersticks a day at quiet times would do.",
        )


def digits(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """Fingersticks that were rounded when they were typed."""
    typed = columns.reference_hundredths
    if columns.glucose_unit != "mg/dL" or typed.size < 2 * FEW_FOR_A_PATTERN:
        return
    round_numbers = float(np.mean(typed % 1000 == 0))
    if round_numbers >= 0.5:
        yield Finding(
            "digit_preference",
            "look",
            f"{100 * round_numbers:.0f} % of the fingersticks end in 0.",
            "About one in ten would; rounded values hide small differences.",
            "Type the number on the meter's display as it stands.",
        )


def all_in_doubt(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """A wear in which nobody pricked a finger without a doubt."""
    if columns.n_pairs >= FEWEST_PAIRS and np.all(columns.prompt == PROMPTS.index("doubt")):
        yield Finding(
            "all_in_doubt",
            "look",
            "Every fingerstick was taken because the sensor was doubted.",
            "Checks taken in doubt find the bad moments and make any sensor look worse than it is.",
            "In a next wear, add fingersticks at fixed times, whatever the sensor shows.",
        )


def one_sided(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """A wear that speaks of one level of glucose only."""
    reference = columns.reference_mg_dl
    if reference.size < FEW_FOR_A_PATTERN:
        return
    for where, edge, inside in (
        ("below", LOW_MG_DL, reference < LOW_MG_DL),
        ("above", HIGH_MG_DL, reference > HIGH_MG_DL),
    ):
        if np.count_nonzero(inside) / inside.size >= 0.9:
            yield Finding(
                "one_sided_range",
                "note",
                f"Nearly all fingersticks were {where} {in_both(edge)}.",
                "How far a sensor is off differs with the level; this wear speaks of one level only.",
                "Nothing needs doing; figures take the level into account.",
            )


def repeated(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """The same pair more than once."""
    told = (columns.elapsed_min, columns.reference_hundredths, columns.sensor_hundredths)
    n_repeated = columns.n_pairs - len(set(zip(*(each.tolist() for each in told), strict=True)))
    if n_repeated:
        yield Finding(
            "repeated_pairs",
            "look",
            f"{n_repeated} pairs stand in the record more than once.",
            "The same reading counted twice makes a figure look surer than it is.",
            "Remove the repeated rows and upload again.",
        )


def calibrations(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:  # noqa: ARG001
    """Fingersticks that the sensor was told."""
    n_calibrations = int(np.sum(columns.prompt == PROMPTS.index("calibration")))
    if n_calibrations:
        yield Finding(
            "calibration_pairs",
            "note",
            f"{n_calibrations} fingersticks were used to calibrate the sensor.",
            "A reading that the sensor was told is no independent check; these pairs are kept and not counted.",
            "Nothing needs doing.",
        )


def outside_wear(columns: PairColumns, wear: WearFacts) -> Iterator[Finding]:
    """Pairs from after the end; a record with such pairs is refused, so this is for pairs not yet in one."""
    n_outside = int(np.sum(columns.elapsed_min > wear.worn_min))
    if n_outside:
        yield Finding(
            "outside_wear",
            "stop",
            f"{counted(n_outside, 'pair')} from after the end of the wear.",
            "They belong to another sensor, or the time of insertion or of the end is wrong.",
            "Correct the two times, or leave these pairs out.",
        )
