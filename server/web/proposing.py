"""A sensor model that the catalogue lacks, proposed by a member; who did is not kept."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from server.accounts.proposals import propose_model
from server.core.errors import ServiceError
from server.web.forms_proposing import ProposalForm
from server.web.showing import MemberRequest, for_members, sent, show_form
from server.web.sign_in import FORM_METHODS


@for_members
@require_http_methods(FORM_METHODS)
def propose(request: MemberRequest) -> HttpResponse:
    form = ProposalForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            propose_model(form.cleaned_data["slug"], account=request.user, **form.facts)
        except ServiceError as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Thank you. The operator looks at it; come back in a while."))
            return redirect("web:wears")
    return show_form(request, "web/propose.html", form)
