"""What was decided, asked and answered about wears: append-only, each entry chained to the one before in its group."""

import uuid
from collections.abc import Mapping
from functools import reduce
from operator import or_
from types import MappingProxyType
from typing import ClassVar, Final

from django.db import models

from server.core.once import RowsForgotten, WrittenOnce
from server.curation.words import Ground, Question, Reason, Reply, RetractionReason
from server.groups.models import Group


class Action(models.TextChoices):
    """What an entry says was done; answers and appeals are acts of a wear's owner."""

    APPROVE = "approve"
    EXCLUDE = "exclude"
    UNDO = "undo"
    CLOSE = "close"
    ASK = "ask"
    ANSWER = "answer"
    APPEAL = "appeal"
    PROPOSE = "propose"
    PUBLISH = "publish"
    RETRACT = "retract"


REASONS: Final = tuple(reason for reason in Reason.values if reason)
CODES: Final[Mapping[Action, tuple[str, ...]]] = MappingProxyType(
    {
        Action.APPROVE: ("",),
        Action.EXCLUDE: REASONS,
        Action.UNDO: ("",),
        Action.CLOSE: REASONS,
        Action.ASK: tuple(Question.values),
        Action.ANSWER: tuple(Reply.values),
        Action.APPEAL: tuple(Ground.values),
        Action.PROPOSE: ("", *RetractionReason.values),
        Action.PUBLISH: ("",),
        Action.RETRACT: tuple(RetractionReason.values),
    }
)
BY_OWNERS: Final = (Action.ANSWER, Action.APPEAL)
OF_FIGURES: Final = (Action.PROPOSE, Action.PUBLISH, Action.RETRACT)
OPERATOR: Final = "operator"
"""How the operator, who acts on the machine itself, stands in the record."""


def _code_fits_action() -> models.Q:
    rows = [models.Q(action=action, code__in=list(codes)) for action, codes in CODES.items()]
    return reduce(or_, rows)


class Decision(WrittenOnce):
    """One entry about one wear, about the edition `figures`, or about what `closes` names: site, sensor model, end and
    kinds of figures.

    It holds no value, and the wear and the moderator only as keyed marks. Of an owner who acts it holds no mark at all:
    that would join an owner's wears to each other.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.PROTECT, related_name="+", db_index=False)
    number = models.PositiveIntegerField()
    wear_mark = models.CharField(max_length=32, blank=True)
    action = models.CharField(max_length=7, choices=Action)
    code = models.CharField(max_length=17, default="", blank=True)
    closes = models.CharField(max_length=200, default="", blank=True)
    figures = models.PositiveIntegerField(null=True, blank=True)
    moderator_mark = models.CharField(max_length=32, blank=True)
    protocol_version = models.PositiveIntegerField()
    on_month = models.DateField()
    chain_hash = models.CharField(max_length=64)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("group", "number"), name="decision_number_once_a_group"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="decision_numbers_from_one"),
            models.CheckConstraint(condition=_code_fits_action(), name="decision_code_fits_action"),
            models.CheckConstraint(
                condition=models.Q(action__in=BY_OWNERS, moderator_mark="")
                | (~models.Q(action__in=BY_OWNERS) & ~models.Q(moderator_mark="")),
                name="decision_owners_leave_no_mark",
            ),
            models.CheckConstraint(
                condition=models.Q(models.Q(action=Action.CLOSE, wear_mark=""), ~models.Q(closes=""))
                | models.Q(~models.Q(action=Action.CLOSE), closes=""),
                name="decision_about_sums_says_which",
            ),
            models.CheckConstraint(
                condition=models.Q(action__in=OF_FIGURES, wear_mark="", figures__isnull=False)
                | models.Q(~models.Q(action__in=OF_FIGURES), figures__isnull=True),
                name="decision_about_figures_says_which",
            ),
            models.CheckConstraint(
                condition=models.Q(action__in=(Action.CLOSE, *OF_FIGURES)) | ~models.Q(wear_mark=""),
                name="decision_about_a_wear_says_which",
            ),
        )

    def __str__(self) -> str:
        return f"decision {self.number} of {self.group_id}"


class ReleaseDay(models.Model):
    """The last day on which batches were released, so that it is done once a week."""

    on = models.DateField(primary_key=True)

    def __str__(self) -> str:
        return f"released on {self.on}"


class Look(WrittenOnce):
    """That a moderator looked at a wear on a day. Both stand as keyed marks, other ones than in the record.

    A copy of the database then joins no look to a decision, whose month would become a day.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    moderator_mark = models.CharField(max_length=32)
    wear_mark = models.CharField(max_length=32)
    on_day = models.DateField()

    objects: ClassVar = RowsForgotten.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("moderator_mark", "wear_mark", "on_day"), name="look_once_a_day"),
        )
        indexes = (models.Index(fields=("wear_mark",), name="look_at_a_wear"),)

    def __str__(self) -> str:
        return f"look on {self.on_day}"


class Told(models.Model):
    """Up to which entry of a group's record the owners of wears have been told: those of the last edition date."""

    group = models.OneToOneField(Group, on_delete=models.CASCADE, primary_key=True, related_name="+")
    number = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"told up to {self.number}"
