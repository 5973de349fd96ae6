"""The pages of founders and moderators, as part of all pages."""

from django.urls import path

from server.web.moderating import founding, people, rules

urlpatterns = [
    path("found/", founding.found, name="found"),
    path("groups/<slug:slug>/moderate/", rules.overview, name="moderate"),
    path("groups/<slug:slug>/moderate/description/", rules.describe, name="moderate-description"),
    path("groups/<slug:slug>/moderate/rules/", rules.rules, name="moderate-rules"),
    path("groups/<slug:slug>/moderate/people/", people.people, name="moderate-people"),
    path("groups/<slug:slug>/moderate/people/invitations/<uuid:invitation>/", people.revoke, name="moderate-revoke"),
    path("groups/<slug:slug>/moderate/people/<uuid:member>/role/", people.set_role, name="moderate-role"),
]
