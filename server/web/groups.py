"""Groups of a member: those that are open, joining with or without an invitation, leaving."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from server.core.errors import ServiceError
from server.groups import services
from server.groups.selectors import group_for_member, groups_of, public_groups
from server.wears.selectors import wears_of
from server.web.forms_groups import InvitationForm
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS


@for_members
@require_http_methods(FORM_METHODS)
def groups(request: MemberRequest) -> HttpResponse:
    """One's own groups and the open ones; the form joins by the code of an invitation."""
    form = InvitationForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            membership = services.join_by_slug(form.cleaned_data["slug"], account=request.user, invitation=form.code)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            return _welcome(request, membership.group.name)
    mine = list(groups_of(request.user))
    others = [group for group in public_groups() if group not in mine and not group.reserved]
    return show_form(request, "web/my_groups.html", form, {"mine": mine, "others": others})


@for_members
@require_POST
def join(request: MemberRequest, slug: str) -> HttpResponse:
    return _welcome(request, services.join_by_slug(slug, account=request.user).group.name)


def _welcome(request: HttpRequest, name: str) -> HttpResponse:
    messages.success(request, _("You belong to %(group)s now. None of your wears is given by that.") % {"group": name})
    return redirect("web:my-groups")


@for_members
@require_http_methods(FORM_METHODS)
def leave(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_for_member(slug, request.user)
    if request.method == "POST":
        services.leave_group(group, account=request.user)
        messages.success(request, _("You have left %(group)s.") % {"group": group.name})
        return redirect("web:my-groups")
    given = [wear for wear in wears_of(request.user) if wear.group_id == group.pk]
    n_counted = sum(wear.shown_state == "admitted" for wear in given)
    return show(
        request, "web/leave.html", {"group": group, "n_counted": n_counted, "n_waiting": len(given) - n_counted}
    )
