"""Whatever is stored about a member is in their export, or it is said why not."""

import pytest
from django.apps import apps

from server.api.exported import EXPORTED, LEFT_OUT
from server.core.register import every_field

# Links that no foreign key makes: by the id in a holding, under a label, a pseudonym or a keyed mark.
SOFT_LINKS = ("wears.Wear", "editions.Place", "accounts.Consent", "accounts.WebSession", "curation.Decision")
SOFT_LINKS += ("curation.Look",)
SOFT_LINKS += ("core.IdempotencyKey",)


def about_members():
    """Every model that an account can be followed to, by keys and by the links above."""
    owned = {apps.get_model("accounts.Account"), *map(apps.get_model, SOFT_LINKS)}
    while True:
        more = {
            model
            for model in apps.get_models()
            if model not in owned
            and any(field.related_model in owned for field in model._meta.concrete_fields if field.is_relation)
        }
        if not more:
            return owned
        owned |= more


def test_every_stored_field_about_a_member_is_exported_or_left_out_for_a_reason():
    registered = {name for fields in every_field().values() for name in fields}
    models = {model.__name__ for model in about_members()}
    asked = {name for name in registered if name.split(".")[0] in models}
    answered = EXPORTED.keys() | LEFT_OUT.keys()
    assert {"unanswered": asked - answered, "stale": answered - asked} == {"unanswered": set(), "stale": set()}
    assert not EXPORTED.keys() & LEFT_OUT.keys()


def test_a_reason_is_one():
    assert all(len(reason.split()) > 3 for reason in LEFT_OUT.values())


@pytest.mark.django_db
def test_models_are_followed_both_ways():
    names = {model._meta.label for model in about_members()}
    assert {"wears.WearPairs", "editions.TieSeat", "accounts.Holding", "groups.Membership"} <= names
    assert not {"editions.SealedRecord", "editions.Edition", "groups.Group", "core.Job"} & names
