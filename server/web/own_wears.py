"""A member's own wears."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from server.wears.selectors import wears_of
from server.web.showing import for_members, show


@for_members
@require_safe
def wears(request: HttpRequest) -> HttpResponse:
    return show(request, "web/wears.html", {"wears": wears_of(request.user)})
