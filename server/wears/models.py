"""Wears: who they came from is not written here.

No row names an account or a wearer (`accounts.Holding` is the only link, and goes with the account), none carries a
clock time, and primary keys are random: the tables cannot be read in the order in which people arrived.
"""

import uuid

from django.db import models

from server.core.outcomes import Family
from server.groups.models import Group
from server.wears.transitions import NEW, State, is_one_of_the_steps


class Wear(models.Model):
    """One sensor on one site, as its record says, and where it stands on its way to the pool."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    state = models.CharField(max_length=8, choices=State, default=State.PRIVATE)
    previous_state = models.CharField(max_length=8, default=NEW, blank=True)
    shown_state = models.CharField(max_length=8, choices=State, default=State.PRIVATE)
    group = models.ForeignKey(Group, on_delete=models.PROTECT, null=True, related_name="+", db_index=False)
    header = models.JSONField()
    findings = models.JSONField(default=list)
    likeness = models.BinaryField(default=bytes)
    copied = models.BooleanField(null=True, default=False)  # null: given, and nobody has looked yet
    released = models.BooleanField(default=False)  # moderators may look
    appealed = models.BooleanField(default=False)
    uploaded_month = models.DateField()
    first_end_bucket = models.PositiveIntegerField(null=True)
    end_bucket = models.PositiveIntegerField(null=True)

    class Meta:
        indexes = (
            models.Index(fields=("group", "state"), name="wear_group_state"),
            models.Index(fields=("copied",), condition=models.Q(copied__isnull=True), name="wear_nobody_has_looked_at"),
        )
        constraints = (
            models.CheckConstraint(condition=is_one_of_the_steps(), name="wear_step_allowed"),
            models.CheckConstraint(
                condition=models.Q(state=State.PRIVATE, group__isnull=True)
                | models.Q(~models.Q(state=State.PRIVATE), group__isnull=False),
                name="wear_private_or_in_a_group",
            ),
            models.CheckConstraint(
                condition=models.Q(
                    state=State.ADMITTED,
                    first_end_bucket__isnull=False,
                    end_bucket__isnull=False,
                    first_end_bucket__lte=models.F("end_bucket"),
                )
                | models.Q(~models.Q(state=State.ADMITTED), first_end_bucket=None, end_bucket=None),
                name="wear_admitted_has_an_end",
            ),
        )

    def __str__(self) -> str:
        return f"wear {self.id}"


class Awaited(models.Model):
    """That a wear waits to be counted in one family of outcomes, and since which cut-off; gone once it is counted."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    wear = models.ForeignKey(Wear, on_delete=models.CASCADE, related_name="awaited", db_index=False)
    family = models.CharField(max_length=10, choices=Family)
    since_slot = models.PositiveIntegerField()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("wear", "family"), name="awaited_once_a_family"),
            models.CheckConstraint(condition=models.Q(family__in=Family.values), name="awaited_family_known"),
        )

    def __str__(self) -> str:
        return f"{self.family} of {self.wear_id}"


class WearPairs(models.Model):
    """The readings of one wear, packed into one block of columns; erased on a date fixed at upload."""

    wear = models.OneToOneField(Wear, on_delete=models.CASCADE, primary_key=True, related_name="pairs")
    block = models.BinaryField()
    erase_on = models.DateField()

    class Meta:
        indexes = (models.Index(fields=("erase_on",), name="pairs_erase_on"),)

    def __str__(self) -> str:
        return f"pairs of {self.wear_id}"


class WearSummary(models.Model):
    """The fixed-size statistics of one wear, with the rules that chose its pairs: all that sealing reads."""

    wear = models.OneToOneField(Wear, on_delete=models.CASCADE, primary_key=True, related_name="summary")
    protocol_version = models.PositiveIntegerField(default=0)  # 0: the rules of an upload that is in no group
    everyone_version = models.PositiveIntegerField(default=0)  # 0: does not feed everyone
    n_pairs = models.PositiveIntegerField()
    payload = models.BinaryField()

    def __str__(self) -> str:
        return f"summary of {self.wear_id}"
