"""Peer groups, who belongs to them, and the protocol that says which wears and pairs count.

Nothing here says when anybody joined, and primary keys are random: no table can be read in the order of arrival.
"""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any, Self

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from server.core.once import WrittenOnce

EVERYONE = "everyone"
K_FLOOR = 5
FEWEST_PAIRS_FLOOR = 8
WIDEST_GAP_CEILING_MIN = 15
MODEL_WAIT_FLOOR_EDITIONS = 2
SITE_WAIT_FLOOR_EDITIONS = 4
WAIT_CEILING_EDITIONS = 12
MONTHS_BETWEEN_EDITIONS = (1, 2, 3)  # each divides the six editions between two ends of sums

# What a wear is described by, and the rule that lists what is taken; a list of null takes everything.
ACCEPTED = {"sensor_model": "accepted_models", "site": "accepted_sites", "meter_class": "accepted_meter_classes"}


class Wearers(models.TextChoices):
    """Whom a group's figures are about."""

    ADULT = "adult"
    CHILD = "child"
    MIXED = "mixed"


class Role(models.TextChoices):
    MEMBER = "member"
    MODERATOR = "moderator"


class FirstDay(models.TextChoices):
    """What becomes of the pairs of a sensor's first 24 hours."""

    KEEP = "keep"
    LEAVE_OUT = "leave_out"


class GroupQuerySet(models.QuerySet["Group"]):
    def select_for_update(
        self, nowait: bool = False, skip_locked: bool = False, of: Sequence[str] = (), no_key: bool = True
    ) -> Self:
        """Whoever holds a group's row keeps out others who do, and nobody who only points at it: no cut-off waits."""
        return super().select_for_update(nowait, skip_locked, of, no_key)


class Group(models.Model):
    """A peer group. The reserved one, `everyone`, is run by the operator and sits above the groups that feed it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    slug = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    description = models.CharField(max_length=500, blank=True)
    public = models.BooleanField(default=False)
    feeds_everyone = models.BooleanField()
    wearers = models.CharField(max_length=5, choices=Wearers)
    reserved = models.BooleanField(default=False)
    founded_on = models.DateField()

    objects = GroupQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(slug=EVERYONE, reserved=True, public=True, feeds_everyone=True)
                | models.Q(~models.Q(slug=EVERYONE), reserved=False),
                name="group_everyone_alone_is_reserved",
            ),
            models.CheckConstraint(condition=models.Q(wearers__in=Wearers.values), name="group_wearers_known"),
        )

    def __str__(self) -> str:
        return self.slug

    @property
    def scope(self) -> str:
        """How the cells of this group are named in the pool."""
        return EVERYONE if self.reserved else str(self.id)


class Membership(models.Model):
    """One account in one group; the id is the pseudonym under which its moderators see the member."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="memberships", db_index=False)
    account = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=9, choices=Role, default=Role.MEMBER)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("group", "account"), name="membership_once_a_group"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_role_known"),
        )

    def __str__(self) -> str:
        return f"{self.role} {self.id}"


class Invitation(models.Model):
    """A way into a group that is not public: the digest of a code that serves a few accounts until its date.

    Who made it stands as a keyed mark, so that one moderator's invitations can be counted; who used it stands nowhere.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="invitations")
    code_sha256 = models.CharField(max_length=64, unique=True)
    uses_left = models.PositiveSmallIntegerField()
    expires_on = models.DateField()
    inviter_mark = models.CharField(max_length=32)

    def __str__(self) -> str:
        return f"invitation {self.id}"


class InvitedTally(models.Model):
    """How many accounts have joined by one moderator's invitations since the last cut-off, and not which."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    inviter_mark = models.CharField(max_length=32)
    interval = models.DateField()
    n_joined = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("inviter_mark", "interval"), name="tally_once_an_interval"),)

    def __str__(self) -> str:
        return f"tally {self.id}"


class Protocol(WrittenOnce):
    """One version of a group's rules. Earlier versions stay, so that each decision can name the one it followed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="protocols", db_index=False)
    version = models.PositiveIntegerField()
    k = models.PositiveSmallIntegerField(default=K_FLOOR, validators=[MinValueValidator(K_FLOOR)])
    fewest_pairs = models.PositiveSmallIntegerField(
        default=FEWEST_PAIRS_FLOOR, validators=[MinValueValidator(FEWEST_PAIRS_FLOOR)]
    )
    widest_gap_min = models.PositiveSmallIntegerField(
        default=WIDEST_GAP_CEILING_MIN, validators=[MaxValueValidator(WIDEST_GAP_CEILING_MIN)]
    )
    highest_rate_mg_dl_min = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1)])
    first_day = models.CharField(max_length=9, choices=FirstDay, default=FirstDay.KEEP)
    accepted_models = models.JSONField(null=True, blank=True)  # null: every sensor model of the catalogue
    accepted_sites = models.JSONField(null=True, blank=True)
    accepted_meter_classes = models.JSONField(null=True, blank=True)
    editions_before_model_given_up = models.PositiveSmallIntegerField(
        default=MODEL_WAIT_FLOOR_EDITIONS,
        validators=[MinValueValidator(MODEL_WAIT_FLOOR_EDITIONS), MaxValueValidator(WAIT_CEILING_EDITIONS)],
    )
    editions_before_site_given_up = models.PositiveSmallIntegerField(
        default=SITE_WAIT_FLOOR_EDITIONS,
        validators=[MinValueValidator(SITE_WAIT_FLOOR_EDITIONS), MaxValueValidator(WAIT_CEILING_EDITIONS)],
    )
    months_between_editions = models.PositiveSmallIntegerField(
        default=1, choices=[(months, str(months)) for months in MONTHS_BETWEEN_EDITIONS]
    )
    room = models.BooleanField(default=False)
    joint_rounds = models.BooleanField(default=True)
    two_person_publishing = models.BooleanField(default=False)
    curated_by_everyone = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("group", "version"), name="protocol_version_once_a_group"),
            models.CheckConstraint(condition=models.Q(version__gte=1), name="protocol_versions_from_one"),
            models.CheckConstraint(condition=models.Q(k__gte=K_FLOOR), name="protocol_k_floor"),
            models.CheckConstraint(
                condition=models.Q(fewest_pairs__gte=FEWEST_PAIRS_FLOOR), name="protocol_fewest_pairs_floor"
            ),
            models.CheckConstraint(
                condition=models.Q(widest_gap_min__lte=WIDEST_GAP_CEILING_MIN), name="protocol_widest_gap_ceiling"
            ),
            models.CheckConstraint(
                condition=models.Q(highest_rate_mg_dl_min__isnull=True) | models.Q(highest_rate_mg_dl_min__gt=0),
                name="protocol_highest_rate_positive",
            ),
            models.CheckConstraint(condition=models.Q(first_day__in=FirstDay.values), name="protocol_first_day_known"),
            models.CheckConstraint(
                condition=models.Q(
                    editions_before_model_given_up__gte=MODEL_WAIT_FLOOR_EDITIONS,
                    editions_before_site_given_up__gte=SITE_WAIT_FLOOR_EDITIONS,
                ),
                name="protocol_waits_floor",
            ),
            models.CheckConstraint(
                condition=models.Q(months_between_editions__in=MONTHS_BETWEEN_EDITIONS), name="protocol_calendar_known"
            ),
        )

    def __str__(self) -> str:
        return f"protocol {self.version} of {self.group_id}"

    def not_taken(self, described: Mapping[str, Any]) -> str | None:
        """Which part of a wear's description this protocol does not take, such as its site; None where it takes it."""
        for part, rule in ACCEPTED.items():
            accepted = getattr(self, rule)
            if accepted is not None and part in described and described[part] not in accepted:
                return part
        return None


class ProtocolPreview(models.Model):
    """What a group's moderators were told about rules they thought of: a band of people, until the next cut-off.

    It is kept so that the same question has the same answer, and another one has to wait for another day.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="+", db_index=False)
    interval = models.DateField()
    rules_sha256 = models.CharField(max_length=64)
    asked_on = models.DateField()
    people_at_least = models.PositiveIntegerField(null=True)  # null: fewer people than may be told of
    people_below = models.PositiveIntegerField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("group", "interval", "rules_sha256"), name="preview_once_an_interval"),
            models.UniqueConstraint(fields=("group", "asked_on"), name="preview_once_a_day"),
        )

    def __str__(self) -> str:
        return f"preview of {self.group_id}"


class JointRound(models.Model):
    """Members of a group wear one sensor model at the same two sites, each in an order drawn for them."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="rounds")
    sensor_model = models.CharField(max_length=60)
    site_a = models.CharField(max_length=40)
    site_b = models.CharField(max_length=40)
    start_month = models.DateField()

    class Meta:
        constraints = (
            models.CheckConstraint(condition=~models.Q(site_a=models.F("site_b")), name="round_of_two_sites"),
        )

    def __str__(self) -> str:
        return f"round {self.id}"


class RoundPlace(models.Model):
    """A member's place in a round: the order drawn, and the token with which their uploads say that it was drawn.

    It goes with the membership. Nobody but the member is told the order.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    round = models.ForeignKey(JointRound, on_delete=models.CASCADE, related_name="places", db_index=False)
    membership = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="places")
    begins_with_b = models.BooleanField()
    plan = models.CharField(max_length=32, unique=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("round", "membership"), name="place_once_a_round"),)

    def __str__(self) -> str:
        return f"place {self.id}"

    @property
    def order(self) -> tuple[str, str]:
        sites = (self.round.site_a, self.round.site_b)
        return (sites[1], sites[0]) if self.begins_with_b else sites
