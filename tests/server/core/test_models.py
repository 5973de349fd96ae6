"""What the catalogue's table itself refuses."""

from decimal import Decimal

import pytest

from server.core.models import EntryIsFinalError, SensorModel

pytestmark = pytest.mark.django_db


def test_an_entry_is_closed_and_never_changed_or_deleted():
    entry = SensorModel.objects.create(slug="demo-x10", rated_life_days=Decimal("10.5"))
    entry.rated_life_days = Decimal(14)
    for change in (entry.save, entry.delete, lambda: entry.save(update_fields=["open", "rated_life_days"])):
        with pytest.raises(EntryIsFinalError):
            change()
    entry.open = False
    entry.save(update_fields=["open"])
    kept = SensorModel.objects.get()
    assert (kept.rated_life_days, kept.open) == (Decimal("10.5"), False)
