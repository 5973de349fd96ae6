"""The trade's words as code: every list that a wear record may choose from, and plain English for each entry.

A leaf site may be closed one day but never moves to another region and never changes its meaning; a changed list gets
a new version number.
"""

from typing import Literal, get_args

from pooling.errors import InvalidInput

VOCABULARY_VERSION = 1

Site = Literal[
    "upper_arm.back",
    "upper_arm.outer",
    "forearm",
    "chest",
    "abdomen.front",
    "abdomen.flank",
    "lower_back",
    "buttock",
    "thigh.front",
    "thigh.outer",
    "calf",
]
Side = Literal["left", "right", "midline"]
EndReason = Literal[
    "completed",
    "fell_off",
    "knocked_off",
    "device_error",
    "signal_loss",
    "removed_skin",
    "removed_pain",
    "removed_inaccurate",
    "removed_procedure",
    "removed_other",
    "unknown",
]
MeterClass = Literal["within-10-pct", "within-15-pct", "within-20-pct", "unknown"]
Assignment = Literal["randomised", "chosen", "only_option"]
Prompt = Literal["scheduled", "doubt", "calibration", "other"]
Source = Literal["trace", "display"]
Mark = Literal["below", "above"]
EventKind = Literal["edge_lift", "tape_added", "knock", "bleeding", "signal_gap", "lain_on"]
Prepared = Literal["washed", "alcohol_wipe", "shaved", "barrier_film", "extra_adhesive", "cover_tape", "strap"]
Pinch = Literal["thin", "medium", "thick"]
Exposed = Literal["water", "sport", "heat", "pressure", "tight_clothing"]
SkinSign = Literal[
    "itch",
    "redness",
    "swelling",
    "bumps",
    "blister",
    "stripped_skin",
    "weeping",
    "bruise",
    "bleeding",
    "pain",
    "lasting_mark",
    "infection",
]
RatedBy = Literal["self", "carer"]
GlucoseUnit = Literal["mg/dL", "mmol/L"]

SITES: tuple[str, ...] = get_args(Site)
SIDES: tuple[str, ...] = get_args(Side)
END_REASONS: tuple[str, ...] = get_args(EndReason)
METER_CLASSES: tuple[str, ...] = get_args(MeterClass)
ASSIGNMENTS: tuple[str, ...] = get_args(Assignment)
PROMPTS: tuple[str, ...] = get_args(Prompt)
SOURCES: tuple[str, ...] = get_args(Source)
MARKS: tuple[str, ...] = get_args(Mark)
EVENT_KINDS: tuple[str, ...] = get_args(EventKind)
PREPARED: tuple[str, ...] = get_args(Prepared)
PINCH: tuple[str, ...] = get_args(Pinch)
EXPOSED: tuple[str, ...] = get_args(Exposed)
SKIN_SIGNS: tuple[str, ...] = get_args(SkinSign)
RATED_BY: tuple[str, ...] = get_args(RatedBy)
GLUCOSE_UNITS: tuple[str, ...] = get_args(GlucoseUnit)

# A wearer's own scale, 0 to 4. It is no clinical grading and borrows no clinician's symbols.
SKIN_GRADES: tuple[str, ...] = (
    "nothing to see or feel",
    "a mark or faint redness that was gone half an hour after removal",
    "redness or itch that lasted for hours, up to a day",
    "raised, blistered, weeping or painful skin, or skin that needed treatment",
    "so bad that the sensor was taken off early because of the skin",
)


def region_of(site: str) -> str:
    """The region of a leaf site.

    Raises
    ------
    InvalidInput
        If `site` is no leaf of the tree.

    Examples
    --------
    >>> region_of("thigh.front"), region_of("calf")
    ('thigh', 'calf')
    """
    if site not in SITES:
        raise InvalidInput(f"no such site; choose one of {', '.join(SITES)}")
    return site.partition(".")[0]


REGIONS: dict[str, tuple[str, ...]] = {
    region: tuple(site for site in SITES if region_of(site) == region)
    for region in dict.fromkeys(region_of(site) for site in SITES)
}

# A region of one leaf would only repeat that leaf's row.
REGIONS_WITH_ROW: tuple[str, ...] = tuple(region for region, leaves in REGIONS.items() if len(leaves) > 1)

_LABELS: dict[str, str] = {
    "upper_arm": "upper arm",
    "upper_arm.back": "back of the upper arm",
    "upper_arm.outer": "outer side of the upper arm",
    "forearm": "forearm",
    "chest": "chest",
    "abdomen": "abdomen",
    "abdomen.front": "front of the abdomen",
    "abdomen.flank": "flank",
    "lower_back": "lower back",
    "buttock": "buttock",
    "thigh": "thigh",
    "thigh.front": "front of the thigh",
    "thigh.outer": "outer side of the thigh",
    "calf": "calf",
    "left": "left",
    "right": "right",
    "midline": "in the middle",
    "completed": "worn to the end of its life",
    "fell_off": "came off by itself",
    "knocked_off": "was knocked or torn off",
    "device_error": "the sensor failed",
    "signal_loss": "the signal was lost for good",
    "removed_skin": "taken off because of the skin",
    "removed_pain": "taken off because of pain",
    "removed_inaccurate": "taken off because the readings could not be trusted",
    "removed_procedure": "taken off for a scan or procedure",
    "removed_other": "taken off for another reason",
    "unknown": "not known",
    "within-10-pct": "meter stated to stay within 10 %",
    "within-15-pct": "meter stated to stay within 15 %",
    "within-20-pct": "meter stated to stay within 20 %",
    "randomised": "site drawn by lot",
    "chosen": "site chosen",
    "only_option": "the only site possible",
    "scheduled": "at a planned time",
    "doubt": "because the reading was doubted",
    "calibration": "to calibrate the sensor",
    "other": "other",
    "trace": "from an export",
    "display": "typed from the screen",
    "below": "below the sensor's range",
    "above": "above the sensor's range",
    "edge_lift": "an edge came loose",
    "tape_added": "tape was added",
    "knock": "it was knocked",
    "bleeding": "bleeding",
    "signal_gap": "the signal was gone for a while",
    "lain_on": "it was lain on",
    "washed": "skin washed",
    "alcohol_wipe": "skin wiped with alcohol",
    "shaved": "hair shaved",
    "barrier_film": "barrier film",
    "extra_adhesive": "extra adhesive",
    "cover_tape": "cover tape",
    "strap": "strap",
    "thin": "a thin pinch of skin",
    "medium": "a medium pinch of skin",
    "thick": "a thick pinch of skin",
    "water": "water",
    "sport": "sport",
    "heat": "heat",
    "pressure": "pressure, such as lying on it",
    "tight_clothing": "tight clothing",
    "itch": "itch",
    "redness": "redness",
    "swelling": "swelling",
    "bumps": "small bumps",
    "blister": "blister",
    "stripped_skin": "skin torn or stripped by the adhesive",
    "weeping": "weeping skin",
    "bruise": "bruise",
    "pain": "pain",
    "lasting_mark": "a mark that stayed",
    "infection": "signs of infection",
    "self": "rated by the wearer",
    "carer": "rated by a parent or carer",
    "mg/dL": "mg/dL",
    "mmol/L": "mmol/L",
}


def label(slug: str) -> str:
    """Plain English for a word of this vocabulary.

    Raises
    ------
    InvalidInput
        If the vocabulary has no such word.

    Examples
    --------
    >>> label("thigh.front")
    'front of the thigh'
    """
    if slug not in _LABELS:
        raise InvalidInput("no such word in the vocabulary")
    return _LABELS[slug]


def capitalised(words: str) -> str:
    """The words with a capital at their beginning and all else as it is.

    >>> capitalised("days 2 to 7, in mmol/L")
    'Days 2 to 7, in mmol/L'
    """
    return words[:1].upper() + words[1:]


def counted(number: int, one: str) -> str:
    """A number with its noun.

    Examples
    --------
    >>> counted(1, "pair"), counted(3000, "pair")
    ('1 pair', '3,000 pairs')
    """
    return f"{number:,} {one}" if number == 1 else f"{number:,} {one}s"
