"""The pages of founders and moderators, as part of all pages."""

from django.urls import path

from server.web import elsewhere
from server.web.moderating import editions, founding, people, queue, rules

urlpatterns = [
    path("found/", founding.found, name="found"),
    path("groups/<slug:slug>/moderate/", rules.overview, name="moderate"),
    path("groups/<slug:slug>/moderate/description/", rules.describe, name="moderate-description"),
    path("groups/<slug:slug>/moderate/rules/", rules.rules, name="moderate-rules"),
    path("groups/<slug:slug>/moderate/people/", people.people, name="moderate-people"),
    path("groups/<slug:slug>/moderate/people/invitations/<uuid:invitation>/", people.revoke, name="moderate-revoke"),
    path("groups/<slug:slug>/moderate/people/<uuid:member>/role/", people.set_role, name="moderate-role"),
    path("groups/<slug:slug>/moderate/queue/", queue.queue, name="moderate-queue"),
    path("groups/<slug:slug>/moderate/queue/clean/", queue.approve_clean, name="moderate-approve-clean"),
    path("groups/<slug:slug>/moderate/queue/<uuid:wear_id>/", queue.wear, name="moderate-wear"),
    path("groups/<slug:slug>/moderate/record/", queue.record, name="moderate-record"),
    path("groups/<slug:slug>/moderate/editions/", editions.editions, name="moderate-editions"),
    path("groups/<slug:slug>/moderate/editions/draft/", editions.start, name="moderate-start-draft"),
    path("groups/<slug:slug>/moderate/drafts/<uuid:draft_id>/", editions.draft, name="moderate-draft"),
    path("groups/<slug:slug>/moderate/drafts/<uuid:draft_id>/publish/", editions.publish, name="moderate-publish"),
    path("groups/<slug:slug>/moderate/drafts/<uuid:draft_id>/discard/", editions.discard, name="moderate-discard"),
    path("groups/<slug:slug>/moderate/editions/<int:number>/take-back/", editions.retract, name="moderate-retract"),
    path("groups/<slug:slug>/moderate/elsewhere/", elsewhere.hand_in, name="moderate-elsewhere"),
    path("groups/<slug:slug>/moderate/elsewhere/<uuid:neighbour_id>/", elsewhere.take_off, name="take-off-elsewhere"),
]
