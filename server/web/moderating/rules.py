"""How a group calls itself, and the rules that say what counts in it."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from server.core.errors import ServiceError
from server.groups import services
from server.groups.permissions import Permission
from server.groups.selectors import group_with_permission, protocol_of
from server.wears.rehearsals import rehearse_rules
from server.web.moderating.forms import DescribeForm, RulesForm
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS


@for_members
@require_safe
def overview(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.WEARS_CURATE)
    return show(request, "web/moderating/overview.html", {"group": group, "protocol": protocol_of(group)})


@for_members
@require_http_methods(FORM_METHODS)
def describe(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.GROUP_DESCRIBE)
    form = DescribeForm(sent(request), initial={"name": group.name, "description": group.description})
    if request.method == "POST" and form.is_valid():
        try:
            services.describe_group(group, by=request.user, **form.cleaned_data)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("That is how the group is shown from now on."))
            return redirect("web:moderate", slug=slug)
    return show_form(request, "web/moderating/describe.html", form, {"group": group})


@for_members
@require_http_methods(FORM_METHODS)
def rules(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.PROTOCOL_CHANGE)
    present = protocol_of(group)
    form = RulesForm(sent(request), initial={name: getattr(present, name) for name in services.PROTOCOL_FIELDS})
    context: dict[str, Any] = {"group": group, "protocol": present}
    if request.method == "POST" and form.is_valid():
        try:
            if request.POST.get("go") != "try":
                changed = services.change_protocol(group, by=request.user, **form.as_told)
                said = _("Version %(version)d of the rules holds for every wear that is looked at from now on.")
                messages.success(request, said % {"version": changed.version})
                return redirect("web:moderate", slug=slug)
            context["tried"] = rehearse_rules(group, by=request.user, **form.as_told)
        except ServiceError as refusal:
            form.refuse(refusal)
    return show_form(request, "web/moderating/rules.html", form, context)
