"""What the pool keeps: sums of at least k people, places without values, drafts, and editions that never change.

No row here names an account, a wearer or a wear, and none carries a clock time. Primary keys are random, so that
no table can be read in the order in which people arrived.
"""

import uuid

from django.db import models

from server.core.once import WrittenOnce
from server.core.outcomes import Family
from server.curation.words import RetractionReason
from server.groups.models import Group


class RecordKind(models.TextChoices):
    """What a record sums; `between`, `within`, `kurtosis` are bundles of a scope and slot, `parts` of whole blocks."""

    BLOCK = "block"
    OVERLAP = "overlap"
    BETWEEN = "between"
    WITHIN = "within"
    KURTOSIS = "kurtosis"
    TIE = "tie"
    PARTS = "parts"


class DraftState(models.TextChoices):
    FITTING = "fitting"
    READY = "ready"
    REFUSED = "refused"
    PUBLISHED = "published"
    DISCARDED = "discarded"


class PartState(models.TextChoices):
    DUE = "due"
    DONE = "done"


class Slot(models.Model):
    """A cut-off that has been sealed; the row is written in the commit that seals, so it means done."""

    number = models.PositiveIntegerField(primary_key=True)
    cut_off = models.DateField(unique=True)

    def __str__(self) -> str:
        return f"slot {self.number}"


class SealedRecord(models.Model):
    """Integer sums over at least k people; at its end the payload goes and the row stays for the audit."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    family = models.CharField(max_length=16, choices=Family, default=Family.ACCURACY)
    kind = models.CharField(max_length=8, choices=RecordKind)
    scope = models.CharField(max_length=36)
    place = models.CharField(max_length=40, blank=True)
    sensor_model = models.CharField(max_length=64, null=True)  # null: the model is not resolved
    end_bucket = models.PositiveIntegerField()
    seal_version = models.PositiveSmallIntegerField()
    k = models.PositiveSmallIntegerField()  # the fewest people its scope asked for when it was sealed
    payload = models.JSONField(null=True)

    class Meta:
        indexes = (models.Index(fields=("scope", "end_bucket"), name="sealed_scope_end"),)
        constraints = (
            models.CheckConstraint(condition=models.Q(kind__in=RecordKind.values), name="sealed_kind_known"),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.scope}|{self.place}|{self.sensor_model or '*'}"


class Closing(models.Model):
    """What moderators end at the next cut-off, before its date: all that could hold such a wear. Gone once it is done.

    Who decided it and why stands in the record of decisions.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    scope = models.CharField(max_length=36)
    site = models.CharField(max_length=40)
    sensor_model = models.CharField(max_length=64)
    end_bucket = models.PositiveIntegerField()
    families = models.JSONField()

    def __str__(self) -> str:
        return f"closing of {self.scope}|{self.site}|{self.sensor_model} until {self.end_bucket}"


class Place(models.Model):
    """One wearer's place in one sealed record, under a random label: what caps, overlaps and the audit need.

    It holds no value and no wear. `accounts` may link the label to an account; that link goes with the account,
    the place stays. In a bundle it counts no wears and has no weights, and at its record's end it loses them.
    """

    label = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    record = models.ForeignKey(SealedRecord, on_delete=models.PROTECT, related_name="places")
    n_wears = models.PositiveSmallIntegerField(default=0)
    q1 = models.JSONField(default=list)
    q2 = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"place {self.label}"


class TieSeat(models.Model):
    """One place of one linker in a tie, under a label that only joins the linker's places in this tie."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    record = models.ForeignKey(SealedRecord, on_delete=models.PROTECT, related_name="seats", db_index=False)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    linker = models.UUIDField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("record", "place"), name="seat_once_a_tie"),)

    def __str__(self) -> str:
        return f"seat {self.id}"


class SpentMarks(models.Model):
    """Keyed numbers of all wears that were once admitted, so that no copy of one is ever fresh again.

    Packed, in ascending order: one row holds all numbers that begin alike and were made under the same keys. Which of
    them are of one wear, of one family or of one cut-off stands nowhere.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    key_version = models.PositiveSmallIntegerField()
    first_byte = models.PositiveSmallIntegerField()
    numbers = models.BinaryField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("key_version", "first_byte"), name="spent_packed_once"),)

    def __str__(self) -> str:
        return f"spent marks {self.key_version}|{self.first_byte:02x}"


class Draft(models.Model):
    """A candidate edition of one group, built from what was sealed up to one slot."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.PROTECT, related_name="+")
    slot = models.ForeignKey(Slot, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=DraftState, default=DraftState.FITTING)
    document = models.BinaryField(null=True)
    certificate = models.BinaryField(null=True)
    diagnosis = models.JSONField(null=True)
    rests_on = models.JSONField(default=dict)  # per cell the blocks that its figures were worked out from
    reasons = models.JSONField(default=list)
    proposer_mark = models.CharField(max_length=32, blank=True)  # of whoever would publish it, until another confirms

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("group", "slot"),
                condition=~models.Q(state__in=(DraftState.DISCARDED, DraftState.REFUSED)),
                name="draft_one_live_a_slot",
            ),
            models.CheckConstraint(condition=models.Q(state__in=DraftState.values), name="draft_state_known"),
            models.CheckConstraint(
                condition=models.Q(state=DraftState.READY, document__isnull=False)
                | models.Q(~models.Q(state=DraftState.READY), document__isnull=True),
                name="draft_ready_has_document",
            ),
        )

    def __str__(self) -> str:
        return f"draft {self.id}"

    @property
    def content(self) -> bytes:
        """The document of a draft that is ready."""
        assert self.document is not None  # a constraint
        return bytes(self.document)


class FitPart(models.Model):
    """The fit of one channel of a draft: a unit of work whose result is bytes."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    draft = models.ForeignKey(Draft, on_delete=models.CASCADE, related_name="parts", db_index=False)
    channel = models.CharField(max_length=16)
    state = models.CharField(max_length=4, choices=PartState, default=PartState.DUE)
    payload = models.BinaryField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("draft", "channel"), name="part_one_a_channel"),
            models.CheckConstraint(
                condition=models.Q(state=PartState.DUE, payload__isnull=True)
                | models.Q(state=PartState.DONE, payload__isnull=False),
                name="part_done_has_payload",
            ),
        )

    def __str__(self) -> str:
        return f"{self.channel} of {self.draft_id}"

    @property
    def content(self) -> bytes:
        """The fit of a part that is done."""
        assert self.payload is not None  # a constraint
        return bytes(self.payload)


class Edition(WrittenOnce):
    """What a group published for one slot: canonical bytes, known by their SHA-256."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.PROTECT, related_name="+", db_index=False)
    slot = models.ForeignKey(Slot, on_delete=models.PROTECT, related_name="+")
    document = models.BinaryField()
    certificate = models.BinaryField(null=True)
    signature = models.JSONField(null=True)
    rests_on = models.JSONField(default=dict)
    sha256 = models.CharField(max_length=64)
    published_month = models.DateField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("group", "slot"), name="edition_one_a_slot"),)

    def __str__(self) -> str:
        return f"edition {self.slot_id} of group {self.group_id}"

    @property
    def number(self) -> int:
        return self.slot_id


class Retraction(models.Model):
    """That an edition was taken back, and why; without a month it is only proposed. The edition's row stays."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    edition = models.OneToOneField(Edition, on_delete=models.PROTECT, related_name="retraction")
    reason = models.CharField(max_length=17, choices=RetractionReason)
    proposer_mark = models.CharField(max_length=32, blank=True)
    retracted_month = models.DateField(null=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(reason__in=RetractionReason.values), name="retraction_reason_known"
            ),
        )

    def __str__(self) -> str:
        return f"retraction of {self.edition_id}"


class Neighbour(models.Model):
    """A public edition of another server, shown beside a group's own under its signature; never added up with it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="+", db_index=False)
    address = models.URLField(max_length=200)
    public_key = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64)
    document = models.BinaryField()
    certificate = models.BinaryField()
    signature = models.JSONField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("group", "sha256"), name="neighbour_once_a_group"),)

    def __str__(self) -> str:
        return f"neighbour {self.id}"
