"""The people whose wears an account keeps."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from server.accounts import services
from server.accounts.consents import paragraphs
from server.accounts.selectors import Account, Wearer, wearer_of, wearers_of
from server.core.errors import Invalid, ServiceError
from server.web.forms_wearers import WearerForm
from server.web.showing import MemberRequest, for_members, sent, show_form
from server.web.sign_in import FORM_METHODS


def wearer_named(account: Account, sent: str) -> Wearer:
    """The wearer whose id a page sent back; a form that was tampered with is refused."""
    try:
        return wearer_of(account, UUID(sent))
    except ValueError:
        raise Invalid(_("What the page held did not come back whole. Begin again.")) from None


def own_names(account: Account) -> dict[str, str]:
    """The account's wearers by their ids, oneself first, as one calls them."""
    return names_of(wearers_of(account))


def names_of(wearers: Iterable[Wearer]) -> dict[str, str]:
    """Wearers of one account by their ids, oneself first, as one calls them.

    No name is kept: two that would be called the same are told apart by when they come of age, and twins by the first
    letters of their ids, which stay whoever is added.
    """
    words = {"self": _("me"), "child": _("my child"), "other": _("somebody else")}
    kept = sorted(wearers, key=lambda wearer: (wearer.relation != "self", wearer.pk))
    names = {wearer: words[wearer.relation] for wearer in kept}
    for wearer in _alike(names):
        if wearer.of_age_month:
            told = {"who": names[wearer], "month": date_format(wearer.of_age_month, "F Y")}
            names[wearer] = _("%(who)s, of age from %(month)s") % told
    for wearer in _alike(names):
        names[wearer] = f"{names[wearer]} ({str(wearer.pk)[:4]})"
    return {str(wearer.pk): name for wearer, name in names.items()}


def _alike(names: Mapping[Wearer, str]) -> list[Wearer]:
    called = list(names.values())
    return [wearer for wearer, name in names.items() if called.count(name) > 1]


def _listed(account: Account) -> list[tuple[Wearer, str]]:
    """Wearers with what forms call them."""
    names = own_names(account)
    return [(wearer, names[str(wearer.pk)]) for wearer in wearers_of(account)]


@for_members
@require_http_methods(FORM_METHODS)
def wearers(request: MemberRequest) -> HttpResponse:
    form = WearerForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            services.add_wearer(request.user, **form.as_told)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Added. You can keep their wears now."))
            return redirect("web:wearers")
    context = {"wearers": _listed(request.user), "guardian": paragraphs()["switches"]["guardian"]}  # type: ignore[index]
    return show_form(request, "web/wearers.html", form, context)
