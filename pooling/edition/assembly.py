"""From a pooled fit to the edition document: the one door through which figures leave."""

from collections.abc import Mapping, Sequence

from pooling import caution, protection
from pooling.edition.document import FORMAT, json_number
from pooling.edition.inputs import CellFit, EditionContext, PooledFit
from pooling.edition.outcomes import far_by_cell, on_rated_by_cell, rating_rows, skin_rows, survival_rows
from pooling.edition.parts import Says, lot_rows, low_rows, part_rows, saying_rows
from pooling.edition.rows import Row, Shows, contrast_rows, model_row, site_row
from pooling.errors import InvalidInput
from pooling.outcomes import Outcomes
from pooling.parts import Parts
from pooling.protection import FLOOR_PEOPLE, FULL_ROW_PEOPLE, Band, Published, band_people

AUDIT_RULE = (
    "Before this edition could appear, a program that shares nothing with those that plan, make and publish sums "
    "looked at all sums ever made here, of every group and every edition together. It knows who is in which sum and no "
    "reading. It found no sum that speaks of too few people, no two sums and no two versions of a figure that differ "
    "by too few, and no way to combine sums, with any weights, so that too few people or hardly more than one are "
    "left. Too few is fewer than each sum was made for, five at the least. It does not see what people know of one "
    "another anyway, and it counts accounts, not bodies."
)
NOTE_SELF_SELECTED = "The people here chose to take part, and their meters have errors of their own."
NOTE_CONTRASTS = (
    "Differences between sites rest partly on who chose which site; only sites drawn by lot would be free of that."
)
NOTE_SMALL = "This group is small: read the table of everyone beside it."
NOTE_FEEDS = "Some of this group's wears count only in the table of everyone."
NOTE_FEW_FIGURES = f"A row of fewer than {FULL_ROW_PEOPLE} people shows fewer figures, and rounder ones."
NOTE_ON_SKIN = "Shares still on the skin count every end before the rated life, whatever brought it about."
NOTE_BOUNDS = "Where few people stand on one side of a share, a bound of the estimate is told, for few and none alike."
NOTES_WEARERS = {
    "adult": "All wearers are adults; nothing here is known for children.",
    "child": "All wearers are children; nothing here is known for adults.",
    "mixed": "The wearers are adults and children together; a figure may fit neither.",
}

NO_OUTCOMES, NO_PARTS = Outcomes(), Parts()


def note_nothing(next_cut_off: str) -> str:
    """The one sentence of an edition that can show nothing, the same whatever lies behind it."""
    return f"There is not enough to show yet. The next edition is due on {next_cut_off}."


def assemble(
    fit: PooledFit, context: EditionContext, outcomes: Outcomes = NO_OUTCOMES, parts: Parts = NO_PARTS
) -> dict:
    """The document of one edition, of JSON values only, every figure of it published by `pooling.protection`.

    Parameters
    ----------
    fit
        The pooled fit of one group's sealed records.
    context
        Whose edition, by which rules, and the auditor's verdict.
    outcomes
        What the same records say beside accuracy.
    parts
        What they say of parts of the wears.

    Returns
    -------
    dict
        The document in the format "edition/1". Rows that cannot be shown are absent, rows stand in the order of their
        names, and a document without a row says one fixed sentence with the next date and nothing else.

    Raises
    ------
    InvalidInput
        If the auditor did not pass, the fit holds a cell twice or at an unknown place, a figure is not finite, or
        anything but a published figure would enter a table.
    """
    if not context.audit_passed:
        raise InvalidInput("the auditor did not pass what this edition rests on; nothing can be published")
    survival = survival_rows(outcomes, context)
    on_rated, far = on_rated_by_cell(survival), far_by_cell(outcomes, context)
    sites, resolved = _by_key(fit.sites, context), _by_key(_resolved(fit.cells), context)
    shown = {(cell.place, cell.sensor_model): cell for cell in (*sites, *resolved)}
    contrasts = contrast_rows(fit.contrasts, shown, context)
    _refuse_repeated(contrasts)

    def row(cell: CellFit) -> Row:
        key = cell.place, cell.sensor_model
        return site_row(cell, context, on_rated=on_rated.get(key), far=far.get(key))

    tables = {
        "sites": [row(cell) for cell in sites],
        "sites_by_model": [row(cell) for cell in resolved],
        "contrasts": contrasts,
        **_part_tables(parts, sites, context),
        "survival": survival,
        "skin": skin_rows(outcomes, context),
        "ratings": rating_rows(outcomes, context),
    }
    largest = _largest(tables)
    return {
        **_head(context),
        "about": {
            "wearers": context.wearers,
            # People of different rows may be the same; that there are at least as many as in the largest row is sure.
            "people": {"at_least": largest, "below": None} if largest else None,
            "n_comparisons": {"primary": sum(row["primary"] is True for row in contrasts), "all": len(contrasts)},
        },
        "tables": plain(tables),
        "model": plain(_model(fit, [*sites, *resolved], context)),
        "audit": {"passed": True, "rule": AUDIT_RULE, "records": plain(_audited(context)) if largest else None},
        "notes": _notes(context, largest, tables),
    }


def _part_tables(parts: Parts, sites: Sequence[CellFit], context: EditionContext) -> dict[str, list[Row]]:
    ranges = part_rows(parts.ranges, "range", context)
    return {
        "phases": part_rows(parts.phases, "phase", context),
        "ranges": ranges,
        "prompts": part_rows(parts.prompts, "prompt", context),
        "lows": low_rows(parts, context),
        "lots": lot_rows(parts.lots, context),
        "when_the_sensor_says": saying_rows(sites, ranges, context),
    }


def plain(node: object) -> object:
    """JSON values of published figures, bands and words.

    Raises
    ------
    InvalidInput
        If a bare number, or anything else that protection did not make, is among them.
    """
    match node:
        case Published():
            return _figure(node)
        case Band():
            return {"at_least": node.at_least, "below": node.below}
        case Shows(reference_mg_dl=reference, shown_mg_dl=Published() as shown):
            ends = _figure(shown)
            return {"reference_mg_dl": reference, "from_mg_dl": ends["lower"], "to_mg_dl": ends["upper"]}
        case Says(sensor_mg_dl=sensor, fingerstick_mg_dl=Published() as fingerstick):
            ends = _figure(fingerstick)
            return {"sensor_mg_dl": sensor, "from_mg_dl": ends["lower"], "to_mg_dl": ends["upper"]}
        case dict():
            return {key: plain(value) for key, value in node.items()}
        case list():
            return [plain(value) for value in node]
        case str() | bool() | None:
            return node
    raise InvalidInput(f"only published figures may enter an edition, not a bare {type(node).__name__}")


def _figure(figure: Published) -> dict[str, object]:
    numbers = {"value": figure.value, "lower": figure.lower, "upper": figure.upper}
    made: dict[str, object] = {name: json_number(number) for name, number in numbers.items() if number is not None}
    if figure.bound:
        made["bound"] = figure.bound
    return made


def _head(context: EditionContext) -> dict[str, object]:
    return {
        "format": FORMAT,
        "group": {"slug": context.group_slug, "name": context.group_name, "kind": context.group_kind},
        "number": context.number,
        "cut_off": context.cut_off,
        "next_cut_off": context.next_cut_off,
        "rules": {
            "protocol_version": context.protocol_version,
            "k": context.k,
            "fit_version": context.fit_version,
            "seal_version": context.seal_version,
            "protection_version": protection.PROTECTION_VERSION,
        },
        "caution": {
            "version": caution.CAUTION_VERSION,
            "text": caution.CAUTION_TEXT,
            "short": caution.CAUTION_SHORT,
        },
        "environment": context.environment,
    }


def _resolved(cells: Sequence[CellFit]) -> list[CellFit]:
    """Cells that name a sensor model; wears pooled over models stand in the table of sites."""
    return [cell for cell in cells if cell.sensor_model is not None]


def _by_key(cells: Sequence[CellFit], context: EditionContext) -> list[CellFit]:
    """The cells that may be shown, by name: the order of a list must not tell who came last."""
    keys = [(cell.place, cell.sensor_model) for cell in cells]
    if len(set(keys)) < len(keys):
        raise InvalidInput("the fit holds a cell twice")
    return sorted(
        (cell for cell in cells if cell.n_people >= context.k), key=lambda cell: (cell.place, cell.sensor_model or "")
    )


def _refuse_repeated(contrasts: list[Row]) -> None:
    keys = {(row["site_a"], row["site_b"], row["sensor_model"]) for row in contrasts}
    if len(keys) < len(contrasts):
        raise InvalidInput("the fit holds a contrast twice")


def _model(fit: PooledFit, cells: Sequence[CellFit], context: EditionContext) -> dict[str, object]:
    """Rounded shared spreads, shape of readings, and where cells lie; empty while no cell holds 30 people."""
    full = [cell for cell in cells if cell.n_people >= FULL_ROW_PEOPLE]
    if not full:
        return {}
    n_people = max(cell.n_people for cell in full)
    spreads = {
        channel: {
            name: protection.publish_spread(spread.median, n_people=n_people, k=context.k)
            for name, spread in named.items()
        }
        for channel, named in fit.spreads.items()
    }
    kurtosis = protection.publish_spread(fit.kurtosis, n_people=n_people, k=context.k)
    return {
        "spreads": spreads,
        "shape": {"kurtosis": kurtosis},
        "cells": [model_row(cell, context) for cell in full],
    }


def _audited(context: EditionContext) -> Band | None:
    return band_people(context.n_audited_records) if context.n_audited_records >= FLOOR_PEOPLE else None


def _largest(tables: Mapping[str, list[Row]]) -> int:
    """The lower end of the largest band of people of any row; 0 where no row is shown."""
    bands = [row["people"] for rows in tables.values() for row in rows]
    return max((band.at_least for band in bands if isinstance(band, Band)), default=0)


def _notes(context: EditionContext, largest: int, tables: Mapping[str, list[Row]]) -> list[str]:
    if not largest:
        return [note_nothing(context.next_cut_off)]
    notes = [NOTE_SELF_SELECTED, NOTES_WEARERS[context.wearers], NOTE_FEW_FIGURES]
    if tables["contrasts"]:
        notes.append(NOTE_CONTRASTS)
    if tables["survival"]:
        notes.append(NOTE_ON_SKIN)
    if tables["survival"] or tables["skin"]:
        notes.append(NOTE_BOUNDS)
    if context.group_kind == "group" and context.feeds_everyone:
        notes.append(NOTE_FEEDS)
    if context.group_kind == "group" and largest < FULL_ROW_PEOPLE:
        notes.append(NOTE_SMALL)
    return notes
