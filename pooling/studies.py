"""Published comparisons of body sites, for a time in which a group can show nothing of its own.

Figures were taken from abstracts; the papers themselves were not read in full. They are about adults or children in
trials, with sensors of their time, and are facts with a source, no part of any pool.
"""

from dataclasses import dataclass

CHECKED_AGAINST = "blood in a laboratory"
CHECKED_BY_FINGERSTICK = "a fingerstick meter"


@dataclass(frozen=True, slots=True)
class StudiedSite:
    """Mean distance from the reference at one site, in per cent, with its standard deviation where it was told."""

    label: str
    mard_pct: float
    sd_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Study:
    """One study: who, against what, and where to read it."""

    people: str
    against: str
    sites: tuple[StudiedSite, ...]
    source: str
    note: str = ""


STUDIES = (
    Study(
        "23 adults, three sensors at once, 14 days",
        CHECKED_BY_FINGERSTICK,
        (
            StudiedSite("upper arm", 11.8, 12.0),
            StudiedSite("thigh", 12.3, 13.8),
            StudiedSite("abdomen", 18.5, 18.4),
        ),
        "Charleer et al., Diabetes, Obesity and Metabolism 2018;20:1503-1507",
        "The abdomen grew worse in the second week; arm and thigh did not.",
    ),
    Study(
        "316 adults, 10.5 days",
        CHECKED_AGAINST,
        (StudiedSite("upper arm", 8.2), StudiedSite("abdomen", 9.1)),
        "Garg et al., Diabetes Technology & Therapeutics 2022;24:373-380",
    ),
    Study(
        "127 children and adolescents of 7 to 17 years",
        CHECKED_AGAINST,
        (StudiedSite("upper arm", 8.1), StudiedSite("abdomen", 9.0)),
        "Journal of Diabetes Science and Technology 2022, doi 10.1177/19322968221091816",
    ),
    Study(
        "14 adults, sensors calibrated by their users",
        CHECKED_BY_FINGERSTICK,
        (StudiedSite("upper arm", 12.0), StudiedSite("abdomen", 12.5)),
        "Steineck et al., Diabetes Technology & Therapeutics 2019;21(5)",
        "The study found no difference between the two.",
    ),
    Study(
        "30 children of 5 to 9 years, sensors calibrated by their users",
        CHECKED_BY_FINGERSTICK,
        (
            StudiedSite("buttock", 12.9, 20.2),
            StudiedSite("abdomen", 13.3, 13.5),
            StudiedSite("upper arm", 13.4, 12.9),
        ),
        "Faccioli et al., Journal of Diabetes Science and Technology 2017;11:1147-1154",
        "The study found no difference among the three.",
    ),
)
NOT_STUDIED = ("forearm", "chest", "calf", "lower back")
