"""No table keeps an index of a field with which a wider index begins: it would be written and never needed."""

import pytest
from django.apps import apps
from django.db import connection, models

OURS = [model for model in apps.get_models() if model.__module__.startswith("server.")]


def covered(model: type[models.Model]) -> list[str]:
    """Fields with an index of their own, with which an index over all rows begins."""
    wider = [*model._meta.constraints, *model._meta.indexes]
    first = {each.fields[0] for each in wider if getattr(each, "fields", ()) and not each.condition}
    return [field.name for field in model._meta.local_fields if field.db_index and field.name in first]


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label)
def test_no_index_stands_beside_one_that_does_its_work(model):
    assert covered(model) == [], "db_index=False"


def test_one_that_does_is_found():
    class Seat(models.Model):
        record = models.ForeignKey("editions.SealedRecord", on_delete=models.PROTECT, related_name="+")
        place = models.ForeignKey("editions.Place", on_delete=models.PROTECT, related_name="+")

        class Meta:
            app_label, managed = "tests", False
            constraints = (models.UniqueConstraint(fields=("record", "place"), name="once"),)

    assert covered(Seat) == ["record"]


@pytest.mark.django_db
@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label)
def test_every_reference_is_found_by_an_index_of_the_database(model):
    """Else whoever erases a row would read a whole table to see what points at it."""
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, model._meta.db_table).values()
    first = {
        each["columns"][0]
        for each in found
        if each["columns"] and (each["index"] or each["unique"] or each["primary_key"])
    }
    references = {field.column for field in model._meta.local_fields if field.remote_field}
    assert references <= first
