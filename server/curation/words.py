"""What moderators and owners can say to each other: lists alone, so that nobody can be named. With it the plain words.

Every choice is a code of at most 17 characters; the words beside it are what a person reads.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from django.db import models


class Reason(models.TextChoices):
    """Why a wear was left out, or counted sums were ended."""

    NONE = "", "no reason needed"
    WRONG_UNIT = "wrong_unit", "the readings are in another unit than stated"
    SWAPPED = "swapped", "fingerstick and sensor are swapped"
    COPIED = "copied", "the fingersticks look copied from the sensor"
    STUCK = "stuck", "the sensor readings do not move"
    NOT_BELIEVABLE = "not_believable", "the readings cannot be believed"
    DUPLICATE = "duplicate", "this wear was given before"
    AGAINST_PROTOCOL = "against_protocol", "the wear does not keep to the group's rules"
    WRONG_DESCRIPTION = "wrong_description", "site, sensor model or length of wear cannot be right"


class RetractionReason(models.TextChoices):
    """Why an edition was taken back."""

    WRONG_DATA = "wrong_data", "wears that should not have been counted stand behind its figures"
    WRONG_COMPUTATION = "wrong_computation", "its figures were worked out wrongly"
    WRONG_DESCRIPTION = "wrong_description", "what it says of sites, sensor models or wearers does not hold"
    AGAINST_RULES = "against_rules", "it was published against the rules of the group"
    PRIVACY = "privacy", "it may tell more about people than it should"


class Question(models.TextChoices):
    """What an owner can be asked. The first five name a tag of the record, which the answer may put right."""

    SITE = "site", "Where on the body did the sensor sit? Please check the site."
    SIDE = "side", "On which side did the sensor sit? Please check the side."
    SENSOR_MODEL = "sensor_model", "Which sensor model was it? Please check the model."
    GLUCOSE_UNIT = "glucose_unit", "In which unit are the readings? Please check the unit."
    END_REASON = "end_reason", "Why did the wear end? Please check the reason."
    COLUMNS = "columns", "Is each fingerstick in the column of fingersticks, and each sensor reading in the other?"
    READINGS = "readings", "Are the readings as the two displays showed them?"


TAGS: Final = (Question.SITE, Question.SIDE, Question.SENSOR_MODEL, Question.GLUCOSE_UNIT, Question.END_REASON)


class Reply(models.TextChoices):
    """What an owner can answer: `corrected` goes with a tag and its right value, `wrong` with the other questions."""

    CONFIRMED = "confirmed", "it is right as it stands"
    CORRECTED = "corrected", "it was wrong and is put right"
    WRONG = "wrong", "it is wrong"
    NOT_KNOWN = "not_known", "I cannot say any more"


class Ground(models.TextChoices):
    """Why an owner wants a wear that was left out to be looked at again."""

    READINGS_RIGHT = "readings_right", "the readings are as the two displays showed them"
    DESCRIPTION_RIGHT = "description_right", "site, sensor model and length of wear are right"
    ONE_OF_ITS_OWN = "one_of_its_own", "it is one wear of its own, given once"
    RULES_KEPT = "rules_kept", "the wear keeps to the group's rules"


REMARKS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "too_few_pairs": "few pairs",
        "outside_wear": "pairs from outside the wear",
        "wrong_unit": "readings seem to be in another unit",
        "swapped_columns": "fingerstick and sensor seem swapped",
        "copied_readings": "fingersticks look copied from the sensor",
        "constant_offset": "always the same difference",
        "stuck_sensor": "the sensor hardly moves",
        "impossible_rates": "faster changes than glucose makes",
        "pressure_lows": "short lows, as when lying on the sensor",
        "meter_noise": "the meter scatters more than its class",
        "digit_preference": "rounded by hand",
        "all_in_doubt": "measured in doubt alone",
        "one_sided_range": "all in one range",
        "repeated_pairs": "the same pairs again",
        "calibration_pairs": "measured for calibration",
        "unlike_the_pool": "unlike what the last figures let one expect",
        "plan_not_registered": "said to be drawn by lot, without a registered plan",
        "given_twice": "the same readings were given before",
    }
)
"""What was found in a wear, in a few words for a list."""


def remark_in_words(code: str) -> str:
    return REMARKS.get(code, code.replace("_", " "))


TOLD_OWNERS: Final[Mapping[str, tuple[str, str]]] = {
    Reason.WRONG_UNIT: (Reason.WRONG_UNIT, "The readings seem to be in another unit than the record says."),
    Reason.SWAPPED: (Reason.SWAPPED, "The columns of fingersticks and of sensor readings seem to be swapped."),
    Reason.COPIED: (Reason.COPIED, "The fingersticks look copied from the sensor, or the sensor from them."),
    Reason.STUCK: (Reason.STUCK, "The sensor showed nearly the same number throughout."),
    Reason.NOT_BELIEVABLE: (
        Reason.NOT_BELIEVABLE,
        "The readings cannot be taken as those of one more wear: they are hard to believe, or like others.",
    ),
    Reason.AGAINST_PROTOCOL: (Reason.AGAINST_PROTOCOL, "The wear does not keep to the group's rules."),
    Reason.WRONG_DESCRIPTION: (
        Reason.WRONG_DESCRIPTION,
        "Site, sensor model or length of wear do not fit what the readings show.",
    ),
}
"""A reason as its owner is told: code and words."""


def told_to_owner(code: str) -> tuple[str, str]:
    """The code and the words for an owner. That somebody gave the same readings before is told to nobody."""
    return TOLD_OWNERS.get(code, TOLD_OWNERS[Reason.NOT_BELIEVABLE])


def replies_to(question: str) -> tuple[Reply, ...]:
    right_it = Reply.CORRECTED if question in TAGS else Reply.WRONG
    return Reply.CONFIRMED, right_it, Reply.NOT_KNOWN
