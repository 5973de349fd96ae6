"""Founding a group: what a small one can show is told before anybody is asked to join."""

from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from server.core.errors import Conflict, ServiceError
from server.groups.founding import found_as_expected
from server.groups.odds import odds_for
from server.web.moderating.forms import FoundForm
from server.web.saying import said
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS


@for_members
@require_http_methods(FORM_METHODS)
def found(request: MemberRequest) -> HttpResponse:
    """First the odds for what was typed, then, on yes, the group."""
    form = FoundForm(sent(request))
    context: dict[str, Any] = {}
    if request.method == "POST" and form.is_valid():
        told = form.as_told
        try:
            if request.POST.get("go") == "found":
                founded = found_as_expected(founder=request.user, **told)
                return show(request, "web/moderating/founded.html", {"founded": founded, "group": founded.group})
            context = {"odds": odds_for(account=request.user, **told["expected"])}
        except Conflict as taken:
            form.add_error("slug", said(taken.detail))
        except ServiceError as refusal:
            form.refuse(refusal)
    return show_form(request, "web/moderating/found.html", form, context)
