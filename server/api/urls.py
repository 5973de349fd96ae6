from django.urls import URLPattern, URLResolver, re_path

from server.api import (
    batch,
    catalogue,
    choice,
    curation,
    disclosures,
    editions,
    expectation,
    export,
    groups,
    mappings,
    members,
    plans,
    previews,
    rounds,
    second_factor,
    wears,
)
from server.api.problems import Nothing

urlpatterns: list[URLPattern | URLResolver] = [
    *members.urlpatterns,
    *second_factor.urlpatterns,
    *export.urlpatterns,
    *mappings.urlpatterns,
    *plans.urlpatterns,
    *catalogue.urlpatterns,
    *wears.urlpatterns,
    *batch.urlpatterns,
    *previews.urlpatterns,
    *disclosures.urlpatterns,
    *groups.urlpatterns,
    *rounds.urlpatterns,
    *curation.urlpatterns,
    *editions.urlpatterns,
    *choice.urlpatterns,
    *expectation.urlpatterns,
    re_path("", Nothing.as_view()),
]
