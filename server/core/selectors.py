"""Reads of what all apps share."""

from typing import Final

from pooling import vocabulary as words
from pooling.caution import CAUTION_SHORT, CAUTION_TEXT, CAUTION_VERSION
from server.core.asking import Asked
from server.core.models import SensorModel


def caution() -> dict[str, str | int]:
    """The caution as it stands in every result body."""
    return {"version": CAUTION_VERSION, "text": CAUTION_TEXT}


def caution_paragraphs() -> dict[str, object]:
    """The caution as pages show it."""
    return {"short": CAUTION_SHORT, "paragraphs": CAUTION_TEXT.split("\n")}


def sensor_models() -> list[SensorModel]:
    return list(SensorModel.objects.order_by("slug"))


def catalogue_state() -> tuple[int, int]:
    """Another one whenever the catalogue is: its entries are added and closed, and never changed."""
    return SensorModel.objects.count(), SensorModel.objects.filter(open=False).count()


_OPEN_MODELS: Final = Asked(lambda: SensorModel.objects.filter(open=True).values_list("slug", "rated_life_days"))


def rated_lives() -> dict[str, float]:
    """The models a new wear may name, with the days that each is rated to last."""
    return {slug: float(days) for slug, days in _OPEN_MODELS()}


def sensor_model_slugs() -> frozenset[str]:
    """The models a new wear may name."""
    return frozenset(rated_lives())


def licensed_sites(slug: str) -> list[tuple[str, str]]:
    """Each site that the instructions of this model name, with the ages it is named for."""
    entry = SensorModel.objects.get(slug=slug)
    return [(licence["site"], licence["ages"]) for licence in entry.licensed_sites]


def word_for(slug: str) -> str:
    """Plain English for a word of the vocabulary."""
    return words.label(slug)


def word_lists() -> dict[str, list[str]]:
    """The closed lists of words that a wear record may use."""
    lists = {
        "sides": words.SIDES,
        "end_reasons": words.END_REASONS,
        "meter_classes": words.METER_CLASSES,
        "assignments": words.ASSIGNMENTS,
        "prompts": words.PROMPTS,
        "sources": words.SOURCES,
        "marks": words.MARKS,
        "event_kinds": words.EVENT_KINDS,
        "prepared": words.PREPARED,
        "pinch": words.PINCH,
        "exposed": words.EXPOSED,
        "skin_grades": words.SKIN_GRADES,
        "skin_signs": words.SKIN_SIGNS,
        "rated_by": words.RATED_BY,
        "glucose_units": words.GLUCOSE_UNITS,
    }
    return {name: list(entries) for name, entries in lists.items()}


def vocabulary() -> dict[str, object]:
    """These lists, and the sites by their regions and in plain words."""
    return {
        "version": words.VOCABULARY_VERSION,
        "regions": {region: list(sites) for region, sites in words.REGIONS.items()},
        "labels": {site: words.label(site) for site in words.SITES},
    } | word_lists()
