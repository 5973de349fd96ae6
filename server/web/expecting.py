"""What to expect of a next wear, from one's own wears and a group's figures together."""

from uuid import UUID

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from server.accounts.selectors import wearer_of
from server.core.errors import ServiceError
from server.editions.expecting import expectation_in
from server.groups.selectors import groups_to_give_to
from server.wears.own import own_wears
from server.web import outline
from server.web.forms_expecting import ExpectForm
from server.web.showing import MemberRequest, for_members, sent, show_form
from server.web.sign_in import FORM_METHODS
from server.web.wearers import own_names


@for_members
@require_http_methods(FORM_METHODS)
def expect(request: MemberRequest) -> HttpResponse:
    names = own_names(request.user)
    *own, everyone = groups_to_give_to(request.user)
    form = ExpectForm(sent(request), wearers=names, groups=[everyone, *own], initial={"wearer": next(iter(names))})
    context = {"drawing": outline.to_choose(), "site": form["site"].value() or ""}
    if request.method == "POST" and form.is_valid():
        told = form.cleaned_data
        try:
            wearer = wearer_of(request.user, UUID(told["wearer"]))
            context["found"] = expectation_in(
                told["group"],
                request.user,
                own_wears(request.user, wearer),
                site=told["site"],
                sensor_model=told["sensor_model"] or None,
            )
        except ServiceError as refusal:
            form.refuse(refusal)
    return show_form(request, "web/expect.html", form, context)
