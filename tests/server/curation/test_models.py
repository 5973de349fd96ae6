import pytest

from server.curation.models import Decision, DecisionIsFinalError
from server.curation.services import approve_wear

pytestmark = pytest.mark.django_db


@pytest.fixture
def decision(give, contributor, group, moderator):
    return approve_wear(group, give(contributor).id, by=moderator.account)


@pytest.mark.parametrize(
    "change",
    [
        lambda decision: decision.save(),
        lambda decision: decision.delete(),
        lambda _: Decision.objects.update(code="copied"),
        lambda _: Decision.objects.all().delete(),
        lambda decision: Decision.objects.bulk_update([decision], ["code"]),
    ],
    ids=["save", "delete", "update", "delete all", "bulk update"],
)
def test_a_decision_is_never_changed_or_taken_away(decision, change):
    with pytest.raises(DecisionIsFinalError):
        change(decision)
    assert Decision.objects.get(pk=decision.pk).action == "approve"


def test_a_decision_names_no_account_and_no_clock_time(decision, moderator):
    row = Decision.objects.filter(pk=decision.pk).values().get()
    assert str(moderator.account.id) not in str(row)
    assert decision.on_month.day == 1
