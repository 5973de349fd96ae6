"""What is agreed, ruled, decided, looked at or published: nobody changes a row of it, and nobody takes one away."""

import pytest
from django.apps import apps

from server.core.once import RowsForgotten, WrittenOnce, WrittenOnceError

KINDS = [model for model in apps.get_models() if issubclass(model, WrittenOnce)]


def test_these_are_written_once_and_these_are_forgotten_in_time():
    forgotten = {kind.__name__ for kind in KINDS if isinstance(kind.objects.all(), RowsForgotten)}
    assert {kind.__name__ for kind in KINDS} == {"Consent", "Decision", "Edition", "Look", "Protocol"}
    assert forgotten == {"Consent", "Look"}


@pytest.mark.django_db
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_no_way_leads_to_a_change(kind):
    row = kind()
    row._state.adding = False
    column = next(field.name for field in kind._meta.concrete_fields if not (field.primary_key or field.is_relation))
    for change in (
        row.save,
        row.delete,
        kind.objects.all().delete,
        lambda: kind.objects.update(**{column: getattr(row, column)}),
        lambda: kind.objects.bulk_update([row], [column]),
    ):
        with pytest.raises(WrittenOnceError, match=kind.__name__):
            change()
