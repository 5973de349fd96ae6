"""Everything that accounts keep about one of them, in words for its owner."""

from typing import Any
from uuid import UUID

from server.accounts import second_factor
from server.accounts.models import Account, Consent, PlaceLabel, Plan, Wearer, WebSession
from server.accounts.plans import plans_of
from server.accounts.selectors import consents_of, mappings_of, wearers_of


def held_about(account: Account) -> dict[str, Any]:
    return {
        "account": {
            "id": account.pk,
            "sign_in_name": account.sign_in_name,
            "joined_on": account.joined_on,
            "pseudonym_in_consents": account.pseudonym,
            "open": account.is_active,
            "n_recovery_codes_left": account.recovery_codes.count(),
            "second_factor": second_factor.is_on(account),
            "signed_in_until": sorted(account.tokens.values_list("expires_on", flat=True)),
            "browsers_until": sorted(
                WebSession.objects.filter(account_id=account.pk).values_list("expire_date", flat=True)
            ),
        },
        "consents": [_consent(entry) for entry in consents_of(account)],
        "wearers": [_wearer(wearer) for wearer in wearers_of(account)],
        "column_mappings": [{"id": mapping.pk, "content": mapping.content} for mapping in mappings_of(account)],
        "plans": [_plan(plan) for plan in plans_of(account)],
    }


def _consent(entry: Consent) -> dict[str, Any]:
    return {
        "number": entry.number,
        "scope": entry.scope,
        "text_version": entry.text_version,
        "given": entry.given,
        "on": entry.on,
        "chain_hash": entry.chain_hash,
    }


def _plan(plan: Plan) -> dict[str, Any]:
    return {
        "plan": plan.token,
        "wearer": plan.wearer_id,
        "registered_month": plan.registered_month,
        "content": plan.content,
        "insert_after_waking_min": plan.insert_after_waking_min,
    }


def _wearer(wearer: Wearer) -> dict[str, Any]:
    return {
        "id": wearer.pk,
        "relation": wearer.relation,
        "age_class": wearer.age_class,
        "of_age_month": wearer.of_age_month,
    }


def labels_of(account: Account) -> dict[UUID, UUID]:
    """The pool's labels of an account, each with the wearer behind it."""
    return dict(PlaceLabel.objects.filter(account=account).order_by("label").values_list("label", "wearer_id"))
