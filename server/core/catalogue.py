"""The catalogue of sensor models: entries are added and closed, and never changed or taken away.

What an entry says is in wears, sums and editions already. A new generation of the algorithm, a longer rated life and a
slip of the keyboard are a new entry alike, and the old one is closed. Members propose entries; a proposal holds facts
from a closed form and not who made it, and is gone once the operator has decided.
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction

from pooling.vocabulary import SITES
from server.core import clock
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.core.models import SensorModel, SensorModelProposal

AGES: Final = ("adult", "child", "all")
LONGEST_RATED_LIFE_DAYS: Final = 400
MOST_GENERATIONS: Final = 20
MOST_PROPOSALS: Final = 200
# Two or three short parts, at least one of them with a digit: room for the name of a model, hardly for a sentence.
PROPOSED_NAME: Final = re.compile(r"(?=.{4,24}\Z)(?=[^0-9]*[0-9])[a-z][a-z0-9]{1,11}(-[a-z0-9]{1,8}){1,2}")


@transaction.atomic
def list_model(
    slug: str, *, rated_life_days: Decimal, licensed: Mapping[str, str], generation: int = 1, is_open: bool = True
) -> SensorModel:
    """Add an entry; `licensed` says for each site that the instructions name whose sensors may sit there."""
    if SensorModel.objects.filter(slug=slug).exists():
        raise Conflict(f"{slug} is listed already, and what it says stays. Close it, and list another name.")
    entry = SensorModel(
        slug=slug,
        rated_life_days=rated_life_days,
        licensed_sites=_licences(licensed),
        algorithm_generation=generation,
        open=is_open,
    )
    _check(entry, rated_life_days, generation)
    entry.save(force_insert=True)
    return entry


def set_open(slug: str, *, is_open: bool) -> SensorModel:
    """Say whether new wears may name an entry; the only thing about it that changes."""
    entry = SensorModel.objects.filter(slug=slug).first()
    if entry is None:
        raise NotFound(f"There is no sensor model {slug} in the catalogue.")
    entry.open = is_open
    entry.save(update_fields=["open"])
    return entry


@transaction.atomic
def propose(
    slug: str, *, rated_life_days: Decimal, licensed: Mapping[str, str], generation: int = 1
) -> SensorModelProposal:
    """Propose an entry; the same proposal made twice is one."""
    if not PROPOSED_NAME.fullmatch(slug):
        message = "Write two or three short parts of small letters and digits, one with a digit, such as demo-a14."
        raise Invalid("This cannot be a name in the catalogue.", faults=[Fault(pointer="#/slug", message=message)])
    if SensorModel.objects.filter(slug=slug).exists():
        raise Conflict("The catalogue has this sensor model. A new generation of it needs a name of its own.")
    if SensorModelProposal.objects.count() >= MOST_PROPOSALS:
        raise Conflict("The operator has many proposals to look at. Make yours again in a few weeks.")
    facts = {
        "slug": slug,
        "rated_life_days": rated_life_days,
        "licensed_sites": _licences(licensed),
        "algorithm_generation": generation,
    }
    _check(SensorModel(**facts), rated_life_days, generation)
    same = SensorModelProposal.objects.filter(**facts).first()
    return same or SensorModelProposal.objects.create(**facts, proposed_month=clock.this_month())


def proposals() -> list[SensorModelProposal]:
    return list(SensorModelProposal.objects.order_by("slug", "id"))


@transaction.atomic
def accept_proposal(proposal_id: UUID) -> SensorModel:
    """Turn a proposal into an entry."""
    proposal = _proposal(proposal_id)
    entry = list_model(
        proposal.slug,
        rated_life_days=proposal.rated_life_days,
        licensed={licence["site"]: licence["ages"] for licence in proposal.licensed_sites},
        generation=proposal.algorithm_generation,
    )
    proposal.delete()
    return entry


@transaction.atomic
def decline_proposal(proposal_id: UUID) -> None:
    _proposal(proposal_id).delete()


def _proposal(proposal_id: UUID) -> SensorModelProposal:
    proposal = SensorModelProposal.objects.select_for_update().filter(pk=proposal_id).first()
    if proposal is None:
        raise NotFound("There is no such proposal.")
    return proposal


def _licences(licensed: Mapping[str, str]) -> list[dict[str, str]]:
    for site, ages in licensed.items():
        if site not in SITES:
            raise _invalid("licensed_sites", f"There is no site {site}. There are {', '.join(SITES)}.")
        if ages not in AGES:
            raise _invalid("licensed_sites", f"{site} is licensed for {', '.join(AGES)}, not for {ages}.")
    return [{"site": site, "ages": ages} for site, ages in sorted(licensed.items())]


def _check(entry: SensorModel, rated_life_days: Decimal, generation: int) -> None:
    if not 0 < rated_life_days <= LONGEST_RATED_LIFE_DAYS:
        raise _invalid("rated_life_days", f"A rated life is greater than 0 days and at most {LONGEST_RATED_LIFE_DAYS}.")
    if not 1 <= generation <= MOST_GENERATIONS:
        raise _invalid("algorithm_generation", f"Generations are counted from 1 to {MOST_GENERATIONS}.")
    try:
        entry.full_clean(validate_unique=False, exclude=["licensed_sites"])
    except ValidationError as error:
        raise _invalid(next(iter(error.message_dict)), " ".join(error.messages)) from None


def _invalid(field: str, message: str) -> Invalid:
    return Invalid(message, faults=[Fault(pointer=f"#/{field}", message=message)])
