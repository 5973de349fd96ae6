"""What moderators decided: append-only, each decision chained to the one before it in its group."""

import uuid
from typing import Any, NoReturn

from django.db import models

from server.groups.models import Group


class Action(models.TextChoices):
    APPROVE = "approve"
    EXCLUDE = "exclude"
    UNDO = "undo"
    CLOSE = "close"


class Reason(models.TextChoices):
    """Why a wear was left out, or counted sums were ended; there is no free text in which somebody could be named."""

    NONE = "", "no reason needed"
    WRONG_UNIT = "wrong_unit", "the readings are in another unit than stated"
    SWAPPED = "swapped", "fingerstick and sensor are swapped"
    COPIED = "copied", "the fingersticks look copied from the sensor"
    STUCK = "stuck", "the sensor readings do not move"
    NOT_BELIEVABLE = "not_believable", "the readings cannot be believed"
    DUPLICATE = "duplicate", "this wear was given before"
    AGAINST_PROTOCOL = "against_protocol", "the wear does not keep to the group's rules"
    WRONG_DESCRIPTION = "wrong_description", "site, sensor model or length of wear cannot be right"


class DecisionIsFinalError(TypeError):
    """Somebody tried to change or delete a decision; an error is put right by a further decision."""


class DecisionQuerySet(models.QuerySet["Decision"]):
    def update(self, **_kwargs: Any) -> NoReturn:
        raise DecisionIsFinalError("a decision is never changed")

    def delete(self) -> NoReturn:
        raise DecisionIsFinalError("a decision is never deleted")

    def bulk_update(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise DecisionIsFinalError("a decision is never changed")


class Decision(models.Model):
    """One decision about one wear, or about what `closes` names: site, sensor model, end and kinds of figures.

    It holds no value, and the wear and the moderator only as keyed marks.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    wear_mark = models.CharField(max_length=32, blank=True)
    action = models.CharField(max_length=7, choices=Action)
    code = models.CharField(max_length=17, choices=Reason, default=Reason.NONE, blank=True)
    closes = models.CharField(max_length=200, default="", blank=True)
    moderator_mark = models.CharField(max_length=32)
    protocol_version = models.PositiveIntegerField()
    on_month = models.DateField()
    chain_hash = models.CharField(max_length=64)

    objects = DecisionQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("group", "number"), name="decision_number_once_a_group"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="decision_numbers_from_one"),
            models.CheckConstraint(
                condition=models.Q(
                    action__in=(Action.EXCLUDE, Action.CLOSE), code__in=[code for code in Reason.values if code]
                )
                | models.Q(action__in=(Action.APPROVE, Action.UNDO), code=Reason.NONE),
                name="decision_exclusion_has_a_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(models.Q(action=Action.CLOSE, wear_mark=""), ~models.Q(closes=""))
                | models.Q(~models.Q(action=Action.CLOSE), ~models.Q(wear_mark=""), closes=""),
                name="decision_about_a_wear_or_about_sums",
            ),
        )

    def __str__(self) -> str:
        return f"decision {self.number} of {self.group_id}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise DecisionIsFinalError("a decision is never changed")
        super().save(*args, **{**kwargs, "force_insert": True})

    def delete(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise DecisionIsFinalError("a decision is never deleted")
