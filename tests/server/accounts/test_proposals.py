from decimal import Decimal

import pytest

from server.accounts.models import Attempt
from server.accounts.proposals import propose_model
from server.core.errors import TooMany

pytestmark = pytest.mark.django_db


def test_members_propose_a_few_an_hour_and_their_accounts_are_not_kept(contributor):
    facts = {"rated_life_days": Decimal(14), "licensed": {"calf": "all"}}
    made = [propose_model(f"demo-x{number}", account=contributor.account, **facts) for number in range(10)]
    assert {field.name for field in made[0]._meta.get_fields()}.isdisjoint({"account", "member", "owner"})
    with pytest.raises(TooMany):
        propose_model("demo-y1", account=contributor.account, **facts)
    assert str(contributor.account.id) not in str(list(Attempt.objects.values()))
