"""The people whose wears an account keeps."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from server.accounts import services
from server.accounts.consents import paragraphs
from server.accounts.selectors import Account, wearers_of
from server.core.errors import ServiceError
from server.web.forms_wearers import WearerForm
from server.web.showing import for_members, sent, show_form
from server.web.sign_in import FORM_METHODS


def own_names(account: Account) -> dict[str, str]:
    """The account's wearers by their ids, oneself first, as one calls them."""
    words = {"self": _("me"), "child": _("my child"), "other": _("somebody else")}
    kept = sorted(wearers_of(account), key=lambda wearer: (wearer.relation != "self", wearer.pk))
    return {str(wearer.pk): words[wearer.relation] for wearer in kept}


@for_members
@require_http_methods(FORM_METHODS)
def wearers(request: HttpRequest) -> HttpResponse:
    form = WearerForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            services.add_wearer(request.user, **form.as_told)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Added. You can keep their wears now."))
            return redirect("web:wearers")
    context = {"wearers": wearers_of(request.user), "guardian": paragraphs()["switches"]["guardian"]}  # type: ignore[index]
    return show_form(request, "web/wearers.html", form, context)
