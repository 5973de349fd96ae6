"""Who may sign in, and the only links from a person to data. No table of wears or editions points here."""

import uuid
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from server.core.once import RowsForgotten, WrittenOnce


class Account(AbstractBaseUser):
    """Somebody who can sign in. There is no e-mail, no name, and no clock time."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    sign_in_name = models.CharField(max_length=60, unique=True)
    joined_on = models.DateField()
    pseudonym = models.UUIDField(default=uuid.uuid4, editable=False)
    is_active = models.BooleanField(default=True)
    last_login = None

    USERNAME_FIELD = "sign_in_name"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects = BaseUserManager["Account"]()

    def __str__(self) -> str:
        return f"account {self.id}"


class RecoveryCode(models.Model):
    """A code that lets its owner set a new password once; only a keyed digest is kept."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=32, unique=True)
    key_version = models.PositiveSmallIntegerField(default=1)

    def __str__(self) -> str:
        return f"recovery code {self.id}"


class SecondFactor(models.Model):
    """The secret that an account shares with an authenticator app, encrypted; in force once it was confirmed."""

    account = models.OneToOneField(Account, on_delete=models.CASCADE, primary_key=True, related_name="second_factor")
    secret = models.BinaryField()
    confirmed = models.BooleanField(default=False)
    last_step = models.PositiveBigIntegerField(null=True)  # of the last code that served: the half minute it was for

    def __str__(self) -> str:
        return f"second factor of {self.account_id}"


class Token(models.Model):
    """A bearer token; only its SHA-256 is kept."""

    digest = models.CharField(primary_key=True, max_length=64)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="tokens")
    expires_on = models.DateField()

    def __str__(self) -> str:
        return f"token of {self.account_id}"


class WebSession(AbstractBaseSession):
    """A browser's session. It names its account, so that closing or recovering an account ends all its sessions."""

    account_id = models.UUIDField(null=True, db_index=True)

    @classmethod
    def get_session_store_class(cls) -> type[Any]:
        from server.accounts.sessions import SessionStore  # the store needs this model first

        return SessionStore

    def __str__(self) -> str:
        return "session"


class Attempt(models.Model):
    """How often something was tried in one hour; what tried is a mark that changes with the hour."""

    mark = models.CharField(primary_key=True, max_length=32)
    hour = models.PositiveIntegerField(db_index=True)
    n_tries = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.n_tries} tries"


class JoiningCode(models.Model):
    """An invitation of the operator's to join the service; its code is shown once and kept as a digest."""

    code_sha256 = models.CharField(primary_key=True, max_length=64)
    expires_on = models.DateField(db_index=True)

    def __str__(self) -> str:
        return f"an invitation until {self.expires_on}"


class Scope(models.TextChoices):
    """What a member agrees to, each with a switch of its own."""

    KEEP = "keep", "keep my wears for my own reports"
    POOL = "pool", "count the wears I give to a group in pooled figures"
    GUARDIAN = "guardian", "I may decide for the children whose wears I keep"


class Consent(WrittenOnce):
    """One switch turned on or off under one version of the text; rows are added, each chained to the one before it.

    They stand under a pseudonym that only the account knows: once it is closed they say that somebody agreed, and no
    longer who.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    pseudonym = models.UUIDField()
    number = models.PositiveIntegerField()
    scope = models.CharField(max_length=8, choices=Scope)
    text_version = models.PositiveSmallIntegerField()
    given = models.BooleanField()
    on = models.DateField()
    chain_hash = models.CharField(max_length=64)

    objects: ClassVar = RowsForgotten.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("pseudonym", "number"), name="consent_numbered"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="consent_numbers_from_one"),
            models.CheckConstraint(condition=models.Q(scope__in=Scope.values), name="consent_scope_known"),
        )

    def __str__(self) -> str:
        return f"consent {self.number} to {self.scope}"


class Relation(models.TextChoices):
    SELF = "self"
    CHILD = "child"
    OTHER = "other"


class AgeClass(models.TextChoices):
    ADULT = "adult"
    CHILD = "child"


class Wearer(models.Model):
    """The person a wear is on; one account may keep several, a child's among them."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="wearers")
    relation = models.CharField(max_length=5, choices=Relation)
    age_class = models.CharField(max_length=5, choices=AgeClass)
    of_age_month = models.DateField(null=True)  # from when on a child decides alone

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(age_class=AgeClass.CHILD, of_age_month__isnull=False)
                | models.Q(age_class=AgeClass.ADULT, of_age_month__isnull=True),
                name="wearer_child_comes_of_age",
            ),
            models.CheckConstraint(
                condition=models.Q(relation__in=Relation.values, age_class__in=AgeClass.values),
                name="wearer_words_known",
            ),
        )

    def __str__(self) -> str:
        return f"wearer {self.id}"


class RememberedMapping(models.Model):
    """What the columns of a member's exports are, as they confirmed it.

    Which layout it is for is a mark of the header words under the account and a key: no word is kept, and the same
    layout has another mark with every member.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="mappings", db_index=False)
    mark = models.CharField(max_length=32)
    key_version = models.PositiveSmallIntegerField(default=1)
    content = models.JSONField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("account", "mark"), name="mapping_once_a_layout"),)

    def __str__(self) -> str:
        return f"mapping {self.id}"


class Plan(models.Model):
    """A fair test, drawn and registered before it starts. Its id is the token that its wears carry.

    It holds no date but the month of registration: days are counted from the first and minutes from waking.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="plans")
    wearer = models.ForeignKey(Wearer, on_delete=models.CASCADE, related_name="plans")
    registered_month = models.DateField()
    content = models.JSONField()
    insert_after_waking_min = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return f"plan {self.id}"

    @property
    def token(self) -> str:
        return self.id.hex


class Holding(models.Model):
    """That this wear is this account's, on this wearer. The only link there is; it goes with the account."""

    wear_id = models.UUIDField(primary_key=True)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="holdings")
    wearer = models.ForeignKey(Wearer, on_delete=models.CASCADE, related_name="holdings")

    def __str__(self) -> str:
        return f"holding of {self.wear_id}"


class PlaceLabel(models.Model):
    """That this random label of the pool's is this account's: for caps and the audit, erased with the account."""

    label = models.UUIDField(primary_key=True)
    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="place_labels")
    wearer = models.ForeignKey(Wearer, on_delete=models.CASCADE, related_name="place_labels")

    def __str__(self) -> str:
        return f"place label {self.label}"
