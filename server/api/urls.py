from django.urls import URLPattern, URLResolver

from server.api import curation, editions, groups, members, wears

urlpatterns: list[URLPattern | URLResolver] = [
    *members.urlpatterns,
    *wears.urlpatterns,
    *groups.urlpatterns,
    *curation.urlpatterns,
    *editions.urlpatterns,
]
