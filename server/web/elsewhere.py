"""Figures of other servers beside a group's own: handed in as signed packages, never fetched, never added up."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from server.accounts.selectors import reader_of
from server.accounts.throttles import count_try
from server.core.errors import ServiceError
from server.editions import neighbours
from server.groups.permissions import Permission
from server.groups.selectors import group_for_reader, group_with_permission
from server.web import pages
from server.web.forms import PageForm, missing
from server.web.showing import MemberRequest, for_members, sent, show, show_form
from server.web.sign_in import FORM_METHODS
from server.web.units import unit_of


class PackageForm(PageForm):
    package = forms.FileField(
        label=gettext_lazy("The package, as the other server gave it out"),
        error_messages=missing(gettext_lazy("Choose the file, package.zip.")),
    )
    address = forms.CharField(
        label=gettext_lazy("Where it stands"),
        max_length=300,
        help_text=gettext_lazy("The https:// address of these figures. It is shown, and never asked."),
        error_messages=missing(gettext_lazy("Type the address.")),
    )
    public_key = forms.CharField(
        label=gettext_lazy("The other server’s public key"),
        max_length=100,
        help_text=gettext_lazy("64 digits and letters. Get it from people you trust, not from the package."),
        error_messages=missing(gettext_lazy("Type the key.")),
    )


@require_safe
def elsewhere(request: HttpRequest, slug: str) -> HttpResponse:
    """What a group shows of other servers."""
    reader = reader_of(request.user)
    found = neighbours.neighbours_of(slug, reader)
    return show(request, "web/elsewhere.html", {"group": group_for_reader(slug, reader), "found": found})


@require_safe
def one(request: HttpRequest, slug: str, neighbour_id: UUID) -> HttpResponse:
    """The sites of one of them, with the caution that it came with."""
    reader = reader_of(request.user)
    group = group_for_reader(slug, reader)
    found = neighbours.neighbour_for_reader(slug, neighbour_id, reader)
    sites = _sites(found.document, unit_of(request))
    context = {"group": group, "found": found, "sites": sites, "is_foreign": sites is None}
    return show(request, "web/elsewhere_one.html", context)


def _sites(document: Any, unit: str) -> tuple[pages.SiteLine, ...] | None:
    """Its rows of sites; None where they are such as only another version, or nobody, could read."""
    try:
        return pages.site_lines(document, "sites", unit)
    except (KeyError, TypeError, AttributeError, ValueError):
        return None


@for_members
@require_http_methods(FORM_METHODS)
def hand_in(request: MemberRequest, slug: str) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.WEARS_CURATE)
    form = PackageForm(sent(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        try:
            count_try("neighbour", str(request.user.pk))
            neighbours.add_neighbour(
                group,
                told["package"].read(),
                address=told["address"],
                public_key=told["public_key"],
                by=request.user,
            )
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("It is shown beside the group’s own figures, as not ours."))
            return redirect("web:moderate-elsewhere", slug=slug)
    context = {"group": group, "found": neighbours.neighbours_of(slug, request.user)}
    return show_form(request, "web/moderating/elsewhere.html", form, context)


@for_members
@require_POST
def take_off(request: MemberRequest, slug: str, neighbour_id: UUID) -> HttpResponse:
    group = group_with_permission(slug, request.user, Permission.WEARS_CURATE)
    neighbours.remove_neighbour(group, neighbour_id, by=request.user)
    messages.success(request, _("It is shown no more."))
    return redirect("web:moderate-elsewhere", slug=slug)
