"""How the figures of one edition were made, generated from its document: what each table estimates, and how."""

from collections.abc import Iterator, Mapping
from typing import Any

from pooling.edition.dictionary import TITLES
from pooling.edition.document import TABLES, table_rows
from pooling.edition.rows import HOW_SURE_RULE
from pooling.edition.seeds import SEED_RULE, seed_of
from pooling.vocabulary import capitalised

CHANNELS: Mapping[str, str] = {
    "location": "how high or low readings lie (log ratio of reading and fingerstick)",
    "dispersion": "how much readings of one wear scatter (log variance)",
    "direct": "mean absolute difference from the fingerstick",
    "rate15": "share within 15 mg/dL or 15 %",
    "rate20": "share within 20 mg/dL or 20 %",
}
COMBINED, PARTS = "combined", "parts"
_CHANCE_FRAC = 0.05
"""Of intervals of 95 %, how many leave out what is true."""
_WHAT: Mapping[str, str] = {
    "quantity": "Quantity",
    "whom": "Of whom",
    "of_what": "Of what",
    "left_out": "What is left out",
    "read": "How to read it",
}
_ESTIMANDS: Mapping[str, Mapping[str, str]] = {
    "sites": {
        "quantity": "expected MARD, bias and shares of readings near the fingerstick, each with its 95 % interval",
        "whom": "a new wearer like those of the group, whoever chose the site",
        "of_what": "a new wear, each reading counting alike, averaged over the sensor models as people here wear them",
        "left_out": "readings without a number, and wears with fewer pairs than the group's rules ask",
        "read": "beside the share still on: a sensor that is off has no accuracy",
    },
    "sites_by_model": {
        "quantity": "the same as in the table of sites",
        "whom": "a new wearer like those of the group",
        "of_what": "a new wear of one sensor model",
        "left_out": "wears whose sensor model was not told apart when they were counted",
        "read": "differences between models are not drawn by lot",
    },
    "contrasts": {
        "quantity": "expected MARD at one site less that at another",
        "whom": "the same new wearer at both; from people who wore both where `basis` says so",
        "of_what": "new wears of one sensor model, or over models",
        "left_out": "pairs of small rows, but for those set against a licensed site",
        "read": "many comparisons are made: some intervals leave out zero by chance",
    },
    "phases": {
        "quantity": "MARD and agreement in days 1, 2 to 7 and later, and with each day worn counting alike",
        "whom": "people of the sums that could be split, as they prick their fingers",
        "of_what": "a place's own figure, moved by how readings of the part differ from all readings",
        "left_out": "blocks that could not be split so that k people straddle; places of under 30 people",
        "read": "days worn follow from the shares still on; the difference is surer than the figure",
    },
    "ranges": {
        "quantity": "MARD and agreement at fingersticks below 70, from 70 to 180, and above 180 mg/dL",
        "whom": "people of the sums that could be split",
        "of_what": "a place's own figure, moved by how readings of the part differ from all readings",
        "left_out": "as for phases",
        "read": "per cent of a low fingerstick is little in mg/dL: read the shares within 15 and 20 beside the MARD",
    },
    "prompts": {
        "quantity": "MARD and agreement of scheduled readings and of those taken in doubt of the sensor",
        "whom": "people of the sums that could be split",
        "of_what": "a place's own figure, moved by how readings of the part differ from all readings",
        "left_out": "as for phases; other reasons",
        "read": "the row of scheduled readings is what the place's figure would be without verification bias",
    },
    "lows": {
        "quantity": "of fingersticks below 70 mg/dL those without a low reading; of low readings those without one",
        "whom": "people of the sums that could be split, each by the share of their readings that are low",
        "of_what": "pairs, marks below the display's range among them",
        "left_out": "counts that do not stand out of masking noise; intervals wider than 60 points",
        "read": "a share missed says nothing of alarms, and false lows depend on how often people are low",
    },
    "lots": {
        "quantity": "expected MARD of wears whose site was drawn by lot less that of wears whose site was chosen",
        "whom": "those who were sent to a site against those who chose it; mostly different people",
        "of_what": "new wears at one site with one sensor model, within one cut-off",
        "left_out": "blocks without k people by lot and k who chose; intervals wider than 10 points",
        "read": "above 0 where people choose sites that serve them; it enters no other figure",
    },
    "when_the_sensor_says": {
        "quantity": "the range of 80 of 100 fingersticks at a displayed value",
        "whom": "a new wearer of the place, with the fingersticks of all sites together",
        "of_what": "one reading of a new wear",
        "left_out": "places of under 30 people; editions whose low and high shares are not told",
        "read": "assumes log-normal fingersticks with the shares printed, and the same relative scatter everywhere",
    },
    "survival": {
        "quantity": "share of wears still on at a day, and of early ends by cause",
        "whom": "a new wearer like those whose wears were counted here, each counting once at most",
        "of_what": "a new wear, with pairs or without; every end counts, whatever brought it about",
        "left_out": "days that a sensor model is not rated to reach; wears that still wait for enough people there",
        "read": "a bound says that few stood on one side, for few and none alike",
    },
    "skin": {
        "quantity": "share of people with redness or itch for hours or worse (grade 2 and above)",
        "whom": "people like those of the group, one wear each",
        "of_what": "a new wear",
        "left_out": "wears whose skin was not reported",
        "read": "reports of one's own skin; no examination stands behind them",
    },
    "ratings": {
        "quantity": "mean of a rating from 0 to 10",
        "whom": "people like those of the group who were asked",
        "of_what": "a new wear",
        "left_out": "ratings not given; there is no total",
        "read": "people rate what they know; few know many sites",
    },
}


FAR_OFF = "Readings far off"
_FAR_OFF: Mapping[str, str] = {
    "quantity": "bound of the readings in zones C to E of the consensus grid, of 1,000: the upper 95 % limit alone",
    "whom": "a new wearer like those of the group, whoever chose the site",
    "of_what": "a new wear, each reading counting alike, as in the row of accuracy in which it stands",
    "left_out": "rows of under 30 people; the share itself and its lower limit, which few readings make",
    "read": "it falls as people are added: a high bound may mean few people, not many such readings",
}
"""A column of the tables of sites, with an estimand of its own."""

NOT_KNOWN = (
    "Drift and early removal: figures are of days on the skin; with every sensor left on, drift would make them worse.",
    "Meters: a person's own meter that always reads high or low counts as error of the sensor.",
    "Readings that resemble their neighbours: a wear then tells less than its number of pairs.",
    "Carry-over: a site worn again at once may do worse than one that has rested.",
    "Leaving a site after one bad wear: part of it was bad luck, and stays in the mean of the site that was left.",
)
"""What the model cannot tell, whatever the data; what each costs was measured in simulated pools."""


def methods_text(document: dict[str, Any]) -> str:
    """The methods of one edition as Markdown, from its document and nothing else."""
    return "\n".join(_lines(document)) + "\n"


def _lines(document: dict[str, Any]) -> Iterator[str]:
    group, rules = document["group"], document["rules"]
    yield from (f"# How the figures of {group['name']}, edition {document['number']}, were made", "")
    yield from (document["caution"]["short"], "")
    yield from (f"Wears approved until {document['cut_off']}. Wearers: {document['about']['wearers']}.", "")
    for table in TABLES:
        yield from _box(document, table)
        if table == "sites_by_model":
            yield from (f"## {FAR_OFF}", "", "Column `far_per_1000_at_most` of the tables of sites.", "")
            yield from _estimand(_FAR_OFF)
    yield from _model(document)
    yield from ("## Who may stand behind a figure", "", *_protection(rules), document["audit"]["rule"], "")
    yield from ("## How sure", "", HOW_SURE_RULE, "")
    yield from ("## What the figures cannot tell", "", *(f"- {sentence}" for sentence in NOT_KNOWN), "")
    yield from ("## Doing it again", "", *_again(document))


def _box(document: dict[str, Any], table: str) -> Iterator[str]:
    rows = "no row in this edition" if not table_rows(document, table) else f"`tables/{table}.csv`"
    yield from (f"## {TITLES[table]}", "", f"{capitalised(rows)}.", "")
    yield from _estimand(_ESTIMANDS[table])


def _estimand(box: Mapping[str, str]) -> Iterator[str]:
    yield from ("| | |", "|---|---|", *(f"| {_WHAT[key]} | {text} |" for key, text in box.items()), "")


def _model(document: dict[str, Any]) -> Iterator[str]:
    yield from ("## The model", "")
    yield (
        "The wears of at least k people at one site are added up to whole-number sums before anything is worked out, "
        "and the single wears are not read again. Channels are fitted by a mixed model on those sums: effects of site, "
        "sensor model and both together, of the person, of the person at a site, of the wear, and of who chose the "
        "site. Spreads have half-t priors with 4 degrees of freedom and are integrated, not fixed. The level of MARD "
        "comes from the direct channel; differences come from location and dispersion in closed form, within people "
        "who wore both where there are enough. Intervals hold 95 % of the draws and are rounded outward."
    )
    yield from ("", *(f"- `{channel}`: {words}" for channel, words in CHANNELS.items()), "")
    yield from (comparisons_in_words(document), "")


def comparisons_in_words(document: dict[str, Any]) -> str:
    """How many differences are shown, and how many of them chance alone would make look real or turn round."""
    shown = document["about"]["n_comparisons"]
    settled = [row for row in table_rows(document, "contrasts") if leaves_out_zero(row["difference_points"])]
    wrong = sum(min(chance, 1 - chance) for chance in (row["p_a_better_frac"]["value"] for row in settled))
    return (
        f"Comparisons shown: {shown['all']}, of which {shown['primary']} against a licensed site. Were no two sites "
        f"different, the intervals of about {_CHANCE_FRAC * shown['all']:.1f} would leave out zero by chance. "
        f"{len(settled)} do; of those about {wrong:.1f} point the wrong way, if the model is right."
    )


def leaves_out_zero(figure: Mapping[str, float]) -> bool:
    """Whether an interval says which way a difference points."""
    return not figure["lower"] <= 0 <= figure["upper"]


def _protection(rules: Mapping[str, Any]) -> Iterator[str]:
    yield (
        f"No figure rests on fewer than {rules['k']} people (k). Figures are rounded by a step that depends on the "
        "band of people alone; rows under 30 people show fewer of them. What is not shown is absent, whatever the "
        "reason."
    )
    yield ""


def _again(document: dict[str, Any]) -> Iterator[str]:
    rules, slug, number = document["rules"], document["group"]["slug"], document["number"]
    versions = ", ".join(f"{name.removesuffix('_version')} {rules[name]}" for name in sorted(rules) if name != "k")
    yield f"Versions of the rules: {versions}. {SEED_RULE}"
    yield ""
    for part in (*CHANNELS, COMBINED, PARTS):
        yield f"- `{part}`: {seed_of(slug, number, rules['fit_version'], part):#x}"
    yield from ("", f"Environment: `{document['environment']}`.", "")
    yield (
        "The same sums under the same rules in an environment of the same fingerprint give the same bytes; another "
        "fingerprint agrees within one rounding step. `commonwear verify` makes every table and chart of a package "
        "again from `edition.json`."
    )
