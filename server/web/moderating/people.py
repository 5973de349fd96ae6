"""The people of a group as its moderators see them: under pseudonyms, and by invitation."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from server.core.errors import ServiceError
from server.groups import services
from server.groups.invitations import make_invitation, open_invitations, revoke_invitation
from server.groups.permissions import Permission
from server.groups.selectors import group_with_permission, members_of
from server.web.moderating.forms import InviteForm
from server.web.showing import MemberRequest, for_members, sent, show_form
from server.web.sign_in import FORM_METHODS


@for_members
@require_http_methods(FORM_METHODS)
def people(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.MEMBERS_LIST)
    form = InviteForm(sent(request), initial={"uses": 1})
    context: dict[str, Any] = {"group": group}
    if request.method == "POST" and form.is_valid():
        try:
            context["made"] = make_invitation(group, by=request.user, **form.cleaned_data)
        except ServiceError as refusal:
            form.refuse(refusal)
    context |= {
        "members": members_of(group, account=request.user),
        "invitations": open_invitations(group, account=request.user),
    }
    return show_form(request, "web/moderating/people.html", form, context)


@for_members
@require_POST
def revoke(request: MemberRequest, slug: str, invitation: UUID) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.INVITATION_MAKE)
    revoke_invitation(group, invitation, by=request.user)
    messages.success(request, _("The invitation serves no more."))
    return redirect("web:moderate-people", slug=slug)


@for_members
@require_POST
def set_role(request: MemberRequest, slug: str, member: UUID) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.MEMBERS_CHANGE)
    services.set_role(group, member=member, role=request.POST.get("role", ""), by=request.user)
    messages.success(request, _("The role is changed."))
    return redirect("web:moderate-people", slug=slug)
