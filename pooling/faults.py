"""What can be wrong with a wear record, said so that the person who caused it can put it right.

Two sources: the published schema (one field at a time) and rules that span fields. Both work on plain decoded JSON, so
that all faults of a record come out together however badly shaped it is.
"""

import math
from collections.abc import Iterator
from typing import Any, TypeGuard

from jsonschema import Draft202012Validator, ValidationError
from jsonschema.validators import extend

from pooling.errors import Fault
from pooling.units import MG_DL, MMOL_L

# A meter shows HI or LO outside about 20 to 600 mg/dL (common practice); 1.1 and 33.3 are the same edges in mmol/L.
PLAUSIBLE = {MG_DL: (20.0, 600.0), MMOL_L: (1.1, 33.3)}
OTHER_UNIT = {MG_DL: MMOL_L, MMOL_L: MG_DL}
_READINGS = ("reference", "sensor", "replicate")
_CALLED = {"reference": "fingersticks", "sensor": "the sensor's readings", "replicate": "second strips"}

RULES = {
    "reading_range": "every reading lies between 20 and 600 mg/dL, or between 1.1 and 33.3 mmol/L, by glucose_unit",
    "wrong_unit": "the readings of a column are not mostly such as only the other unit has; one fault for all of them",
    "sensor_or_mark": "a pair has either a sensor number or a sensor_mark, never both and never neither",
    "outside_wear": "pairs and events lie within the wear: elapsed_min is at most worn_min",
    "skin_signs": "skin grade 0 goes with no signs",
    "skin_end": "removed_skin does not go with grade 0, nor grade 4 with completed",
    "ratings_empty": "ratings with no number in them are written as null",
    "calibrated": "a pair prompted by calibration needs calibrated to be true",
    "repeated": "a list names each thing once",
}

Pointer = tuple[str | int, ...]


def too_large(limit: int) -> Fault:
    return Fault("#", "too_large", f"the record is larger than {limit:,} bytes; send the pairs, not the whole trace")


def unreadable() -> Fault:
    return Fault("#", "not_json", "this cannot be read as JSON in UTF-8; check that the file is whole")


def type_fault(reason: str) -> Fault:
    """The last resort, for what the decoder refuses though the schema has no word against it."""
    return Fault("#", "type", f"the record does not have the published shape: {reason}")


def pointer(path: Pointer) -> str:
    """A JSON pointer as a URI fragment (RFC 6901)."""
    return "#" + "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


# ---- one field at a time ---------------------------------------------------------------------------------------------


def _is_whole(_checker: Any, value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


_Validator = extend(Draft202012Validator, type_checker=Draft202012Validator.TYPE_CHECKER.redefine("integer", _is_whole))


def schema_faults(content: Any, schema: dict[str, Any]) -> tuple[Fault, ...]:
    """Every departure of `content` from the published schema, in the order of the record."""
    found = [fault for error in _Validator(schema).iter_errors(content) for fault in _said_plainly(error)]
    return tuple(dict.fromkeys(found))


def _said_plainly(error: ValidationError) -> Iterator[Fault]:
    path: Pointer = tuple(error.absolute_path)
    if error.validator == "anyOf":
        yield from _of_nullable(error)
    elif error.validator == "additionalProperties":
        known = error.schema["properties"]
        for name in (name for name in error.instance if name not in known):
            text = f"{name[:60]!r} is no field of this record; remove it. Fields here: {', '.join(known)}"
            yield Fault(pointer((*path, name)), "unknown_field", text)
    elif error.validator == "required":
        for name in (name for name in error.validator_value if name not in error.instance):
            meaning = error.schema["properties"][name]["description"]
            yield Fault(pointer((*path, name)), "missing", f"{name!r} is missing; add it: {meaning}")
    elif error.validator != "uniqueItems":  # said by rule_faults, for records of any shape
        yield Fault(pointer(path), str(error.validator), _advice(error))


def _of_nullable(error: ValidationError) -> Iterator[Fault]:
    """Of the two branches "this or null", what the first has to say; the null branch never helps anybody."""
    for inner in error.context or ():
        if inner.schema_path[0] == 0:
            yield from _said_plainly(inner)


def _advice(error: ValidationError) -> str:
    wanted = error.validator_value
    advice = {
        "enum": lambda: f"choose one of: {', '.join(map(str, wanted))}",
        "const": lambda: f"must be exactly {wanted!r}",
        "type": lambda: f"must be {_KINDS.get(wanted, wanted)}",
        "minimum": lambda: f"must be {wanted} or more",
        "exclusiveMinimum": lambda: f"must be more than {wanted}",
        "maximum": lambda: f"must be {wanted} or less",
        "pattern": lambda: f"must have the form {wanted}",
        "maxLength": lambda: f"must be at most {wanted} characters long",
        "maxItems": lambda: f"holds more than {wanted} entries; leave out what the format does not ask for",
    }
    return advice[str(error.validator)]()


_KINDS = {
    "integer": "a whole number, written without a decimal point",
    "number": "a number, without quotation marks",
    "string": "text in quotation marks",
    "boolean": "true or false",
    "array": "a list",
    "object": "an object with named fields",
}

# ---- rules that span fields ------------------------------------------------------------------------------------------


def rule_faults(content: Any, *, pairs_are_sound: bool = False) -> tuple[Fault, ...]:
    """Every breach of `RULES`; parts of the wrong shape are passed over, since the schema has already named them.

    Pairs that are known to be sound are not looked at one by one.
    """
    if not isinstance(content, dict):
        return ()
    pairs = () if pairs_are_sound else _pairs(content)
    found = [*pairs, *_events(content), *_skin(content), *_ratings(content), *_repeats(content)]
    return tuple(found)


def _pairs(content: dict[str, Any]) -> Iterator[Fault]:
    pairs, unit = list(_objects(content.get("pairs"))), content.get("glucose_unit")
    in_other_unit = _columns_in_other_unit([pair for _, pair in pairs], unit)
    if in_other_unit:
        yield _wrong_unit(in_other_unit, unit)
    for index, pair in pairs:
        path: Pointer = ("pairs", index)
        yield from _readings(path, pair, unit, in_other_unit)
        yield from _sensor_or_mark(path, pair)
        yield from _inside(path, pair, content.get("worn_min"))
        if pair.get("prompt") == "calibration" and content.get("calibrated") is False:
            text = "this fingerstick calibrated the sensor; set calibrated to true, or correct the prompt"
            yield Fault(pointer((*path, "prompt")), "calibrated", text)


def _columns_in_other_unit(pairs: list[dict[str, Any]], unit: Any) -> tuple[str, ...]:
    """The columns of which at least two numbers, and more than half, fit the other unit and not the stated one."""
    if not isinstance(unit, str) or unit not in PLAUSIBLE:
        return ()
    columns = {name: [pair[name] for pair in pairs if _is_number(pair.get(name))] for name in _READINGS}
    n_misfits = {name: sum(_fits_other_only(value, unit) for value in values) for name, values in columns.items()}
    return tuple(name for name in _READINGS if n_misfits[name] >= 2 and 2 * n_misfits[name] > len(columns[name]))


def _fits_other_only(value: float, unit: str) -> bool:
    low, high = PLAUSIBLE[unit]
    other_low, other_high = PLAUSIBLE[OTHER_UNIT[unit]]
    return not low <= value <= high and other_low <= value <= other_high


def _wrong_unit(columns: tuple[str, ...], unit: Any) -> Fault:
    other = OTHER_UNIT[unit]
    if {"reference", "sensor"} <= set(columns):
        text = f"the unit is said to be {unit}, but the readings look like {other}; correct the unit"
    else:
        named = " and ".join(_CALLED[name] for name in columns)
        text = f"the unit is said to be {unit}, but {named} look like {other}; give every reading in one unit"
    return Fault("#/glucose_unit", "wrong_unit", text)


def _readings(path: Pointer, pair: dict[str, Any], unit: Any, in_other_unit: tuple[str, ...]) -> Iterator[Fault]:
    if not isinstance(unit, str) or unit not in PLAUSIBLE:
        return
    low, high = PLAUSIBLE[unit]
    for name in _READINGS:
        value = pair.get(name)
        if name in in_other_unit and _is_number(value) and _fits_other_only(value, unit):
            continue  # said once for the whole column
        if _is_number(value) and not low <= value <= high:
            text = f"a reading in {unit} lies between {low:g} and {high:g}; check the number and the unit"
            if name == "sensor":
                text += "; if the sensor showed no number, set sensor to null and sensor_mark to below or above"
            yield Fault(pointer((*path, name)), "reading_range", text)


def _sensor_or_mark(path: Pointer, pair: dict[str, Any]) -> Iterator[Fault]:
    has_number, has_mark = pair.get("sensor") is not None, pair.get("sensor_mark") is not None
    if has_number and has_mark:
        text = "a marked pair has no number; set sensor to null, or sensor_mark to null"
        yield Fault(pointer((*path, "sensor_mark")), "sensor_or_mark", text)
    if not has_number and not has_mark:
        text = "give the sensor's number, or set sensor_mark to below or above; leave the pair out if neither is known"
        yield Fault(pointer((*path, "sensor")), "sensor_or_mark", text)


def _inside(path: Pointer, item: dict[str, Any], worn_min: Any) -> Iterator[Fault]:
    elapsed = item.get("elapsed_min")
    if _is_number(elapsed) and _is_number(worn_min) and elapsed > worn_min:
        text = "this lies after the end of the wear; correct elapsed_min or worn_min, or leave it out"
        yield Fault(pointer((*path, "elapsed_min")), "outside_wear", text)


def _events(content: dict[str, Any]) -> Iterator[Fault]:
    for index, event in _objects(content.get("events")):
        yield from _inside(("events", index), event, content.get("worn_min"))


def _skin(content: dict[str, Any]) -> Iterator[Fault]:
    skin, end = content.get("skin"), content.get("end_reason")
    if not isinstance(skin, dict):
        return
    grade = skin.get("grade")
    if grade == 0 and skin.get("signs"):
        yield Fault("#/skin/signs", "skin_signs", "grade 0 means nothing was seen; remove the signs or raise the grade")
    if (grade == 0 and end == "removed_skin") or (grade == 4 and end == "completed"):
        text = "grade and end_reason disagree; 4 means taken off early because of the skin, 0 means nothing"
        yield Fault("#/skin/grade", "skin_end", text)


def _ratings(content: dict[str, Any]) -> Iterator[Fault]:
    ratings = content.get("ratings")
    if isinstance(ratings, dict) and all(ratings.get(name) is None for name in ("ease", "comfort", "discretion")):
        yield Fault("#/ratings", "ratings_empty", "no rating is given; set ratings to null if nobody was asked")


def _repeats(content: dict[str, Any]) -> Iterator[Fault]:
    for parent, name in (("conditions", "prepared"), ("conditions", "exposed"), ("skin", "signs")):
        holder = content.get(parent)
        named = holder.get(name) if isinstance(holder, dict) else None
        if isinstance(named, list | tuple) and len({repr(word) for word in named}) < len(named):
            yield Fault(f"#/{parent}/{name}", "repeated", "each thing is named once; remove what is repeated")


def _objects(value: Any) -> Iterator[tuple[int, dict[str, Any]]]:
    if isinstance(value, list | tuple):
        yield from ((index, item) for index, item in enumerate(value) if isinstance(item, dict))


def _is_number(value: Any) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
