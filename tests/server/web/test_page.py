from django.test import RequestFactory

from pooling.caution import CAUTION_SHORT
from server.web.page import page


def test_every_page_has_the_unit_and_the_caution(db):
    request = RequestFactory().get("/")
    request.COOKIES["unit"] = "mmol/L"
    answer = page(request, "web/notices.html", {"every_notice": []}, status=202)
    assert answer.status_code == 202
    assert CAUTION_SHORT.replace("'", "&#x27;") in answer.content.decode()
    assert 'value="mmol/L" aria-pressed="true"' in answer.content.decode()
