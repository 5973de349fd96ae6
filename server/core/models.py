"""What all apps share: jobs, the catalogue of sensor models, answers that may be repeated, erasures on their way."""

import uuid
from typing import Any, NoReturn

from django.db import models


class Job(models.Model):
    """One piece of work. The row is the truth: the queue only carries its id."""

    class State(models.TextChoices):
        DUE = "due"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=60)
    subject = models.UUIDField()
    state = models.CharField(max_length=8, choices=State, default=State.DUE)
    attempts = models.PositiveSmallIntegerField(default=0)
    fault = models.CharField(max_length=80, blank=True)
    # Filled in by the database where a process of an earlier release writes the row.
    request_id = models.CharField(max_length=16, blank=True, db_default="")
    changed_on = models.DateField()

    class Meta:
        indexes = (models.Index(fields=("state", "changed_on"), name="job_state"),)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(state__in=("due", "running", "done", "failed")), name="job_state_known"
            ),
        )

    def __str__(self) -> str:
        return f"job {self.id}"


class EntryIsFinalError(TypeError):
    """Somebody tried to change or delete an entry of the catalogue; a correction is an entry of its own."""


class SensorModel(models.Model):
    """An entry of the catalogue: facts from a sensor's own instructions. A new generation is a new entry."""

    slug = models.SlugField(primary_key=True, max_length=60)
    rated_life_days = models.DecimalField(max_digits=4, decimal_places=1)
    # [{"site": "upper_arm.back", "ages": "adult"}, …]; ages is adult, child or all
    licensed_sites = models.JSONField(default=list)
    algorithm_generation = models.PositiveSmallIntegerField(default=1)
    open = models.BooleanField(default=True)

    class Meta:
        constraints = (
            models.CheckConstraint(condition=models.Q(rated_life_days__gt=0), name="sensor_model_life_positive"),
        )

    def __str__(self) -> str:
        return self.slug

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding and set(kwargs.get("update_fields") or ()) != {"open"}:
            raise EntryIsFinalError("an entry of the catalogue is closed or opened, and never changed otherwise")
        super().save(*args, **kwargs)

    def delete(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise EntryIsFinalError("an entry of the catalogue stays; wears and editions name it")


class SensorModelProposal(models.Model):
    """What a member proposes for the catalogue: the facts of an entry, until the operator has decided; not by whom."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    slug = models.SlugField(max_length=24)
    rated_life_days = models.DecimalField(max_digits=4, decimal_places=1)
    licensed_sites = models.JSONField(default=list)
    algorithm_generation = models.PositiveSmallIntegerField(default=1)
    proposed_month = models.DateField()

    class Meta:
        constraints = (
            models.CheckConstraint(condition=models.Q(rated_life_days__gt=0), name="proposal_life_positive"),
        )

    def __str__(self) -> str:
        return f"proposal {self.id}"


class IdempotencyKey(models.Model):
    """The answer given to a request that may be sent again: found by keyed marks, read with the request's own key."""

    mark = models.CharField(primary_key=True, max_length=32)
    account_mark = models.CharField(max_length=32, db_index=True)
    body_digest = models.CharField(max_length=32)
    key_version = models.PositiveSmallIntegerField()
    answer = models.BinaryField()
    answered_on = models.DateField()

    def __str__(self) -> str:
        return f"answer of {self.answered_on}"


class Erasure(models.Model):
    """Something that was erased or ended: on its way into the journal of erasures, and off the disks.

    Among those that are written, the number is the order of the journal's lines. The newest line stays here, so that a
    database that was put back from a copy is known to be older than the journal.
    """

    number = models.BigAutoField(primary_key=True)
    line = models.TextField(blank=True)  # blank: nothing that a copy could bring back for good
    written = models.BooleanField(default=False)
    settled = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"erasure {self.number}"


class Notice(models.Model):
    """Something that everybody who uses the service has to be told, a breach above all; there is no other way to."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    text = models.TextField(max_length=4000)
    posted_on = models.DateField()
    withdrawn_on = models.DateField(null=True)

    def __str__(self) -> str:
        return f"notice of {self.posted_on}"
