from server.core.register import DataClass, every_field


def test_every_app_that_stores_something_is_in_it():
    fields = every_field()
    assert {"core", "accounts", "groups", "wears", "curation", "editions"} == set(fields)
    assert fields["wears"]["WearPairs.block"].data_class == DataClass.HEALTH
