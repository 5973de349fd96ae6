"""A page for whoever asks, with what stands on every page: the unit they chose and the caution."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from server.core.selectors import caution_paragraphs
from server.web.units import unit_of


def page(request: HttpRequest, template: str, context: dict[str, Any], status: int = 200) -> HttpResponse:
    shared = {"unit": unit_of(request), "caution": caution_paragraphs()}
    return render(request, template, shared | context, status=status)
