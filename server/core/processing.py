"""Papers of the controller, filled from what the service stores: the record of processing and the impact assessment.

Their headings follow articles 30(1) and 35(7) of the General Data Protection Regulation (from memory; no legal advice).
What only the controller can know stands in square brackets.
"""

from collections.abc import Iterator, Mapping
from typing import Final

from django.conf import settings

from server.core.register import DataClass, Field, every_field

TELLING: Final = (DataClass.IDENTIFYING, DataClass.HEALTH)
TO_FILL: Final = "[to be filled in by the controller]"
PARTICULARS: Final[Mapping[str, str]] = {
    "controller": "Controller",
    "contact": "Contact, also for erasure",
    "country": "Country whose law holds",
    "legal_basis": "Legal basis",
    "minors": "Minors",
}
MINORS: Final[Mapping[str, str]] = {
    "adults-only": "wears of adults only",
    "with-guardian": "wears of children are taken from whoever answers for them",
}
PURPOSES: Final = (
    "Keep: a member reads the reports of their own wears. Consent, a switch of its own.",
    "Pool: wears that a member gives to a group are added up with those of at least four other people, and figures "
    "about sites are published from the sums. Consent, a second switch.",
    "Running: signing in, slowing down guessing, doing jobs once. No statistics of use are kept.",
)
MEASURES: Final = (
    "No name, e-mail or clock time is asked for; sign-in names are made up by the service.",
    "Tables of wears name no account; one table links them, and it goes with the account.",
    "Figures come from sums over at least five people, and the database refuses everything else while they are made.",
    "Marks are keyed; the keys lie outside the database and its copies.",
    "Erasure is noted in a journal apart from the copies, replayed after a restore, and carried off the disks.",
    "Logs, queue and reports of errors hold no value that somebody sent.",
)
RISKS: Final = (
    ("somebody is singled out from published figures", "at least five people behind every sum; an auditor of its own"),
    ("one member among many accounts of one attacker", "age of accounts, invitations, a higher k; not excluded"),
    ("a copy of the database gets into other hands", "keys apart; readings erased after twelve months; no names"),
    ("a member takes pooled figures for advice", "the caution stands with every figure"),
    ("erased data come back with an old copy", "the journal of erasures is replayed before anything else"),
)


def particulars() -> list[tuple[str, str]]:
    """Who answers for the service, as it stands on the public page; empty where nobody has said."""
    said = {**settings.OPERATOR, "minors": MINORS.get(settings.OPERATOR["minors"] or "")}
    return [(label, said[name] or "") for name, label in PARTICULARS.items()]


def telling_fields() -> dict[str, dict[str, Field]]:
    """The fields that say something about a person, by app."""
    chosen = {
        app: {name: field for name, field in fields.items() if field.data_class in TELLING}
        for app, fields in every_field().items()
    }
    return {app: fields for app, fields in chosen.items() if fields}


def processing_record() -> str:
    return "\n".join(_record()) + "\n"


def impact_assessment() -> str:
    return "\n".join(_assessment()) + "\n"


def _who() -> Iterator[str]:
    for label, said in particulars():
        yield f"- {label}: {said or TO_FILL}"


def _fields() -> Iterator[str]:
    yield "| data | what for | who reads it | how long | class |"
    yield "|---|---|---|---|---|"
    for app, fields in telling_fields().items():
        for name, field in fields.items():
            yield f"| {app}.{name} | {field.purpose} | {field.reader} | {field.retention} | {field.data_class} |"


def _record() -> Iterator[str]:
    yield from ("# Record of processing", "", "## Controller", "")
    yield from (*_who(), f"- Data protection officer, if there is one: {TO_FILL}", "", "## Purposes", "")
    yield from (*(f"- {purpose}" for purpose in PURPOSES), "", "## Whose data", "")
    yield from (
        "- Members, and the people they keep wears for, children among them where the rule for minors",
        "  allows.",
    )
    yield from ("", "## Which data, who receives them, and when they are erased", "", *_fields(), "")
    yield from ("## Transfers to other countries", "", f"- Where the machines and the copies stand: {TO_FILL}", "")
    yield from ("## Measures", "", *(f"- {measure}" for measure in MEASURES))
    yield from (f"- How long archives of the database are kept: {TO_FILL}",)


def _assessment() -> Iterator[str]:
    yield from ("# Data protection impact assessment", "", "## Controller", "", *_who(), "")
    yield from ("## What is done, and what for", "", *(f"- {purpose}" for purpose in PURPOSES), "", *_fields(), "")
    yield from ("## Whether it is needed and in proportion", "")
    yield "- Of a wear only what a figure or a report needs is taken; whole traces stay on the member's device."
    yield from (f"- Why the same cannot be learnt with less: {TO_FILL}", "")
    yield from (
        "## Risks to members, and what is done against them",
        "",
        "| risk | measure | left over |",
        "|---|---|---|",
    )
    yield from (f"| {risk} | {measure} | {TO_FILL} |" for risk, measure in RISKS)
    yield from ("", "## Measures", "", *(f"- {measure}" for measure in MEASURES), "")
    yield from (
        "## Who was asked",
        "",
        f"- Members or those who speak for them: {TO_FILL}",
        f"- Date, decision: {TO_FILL}",
    )
