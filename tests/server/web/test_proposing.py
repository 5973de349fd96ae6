import pytest

from server.core.catalogue import proposals
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
ADDRESS = "/wears/new/sensor-model/"
TOLD = {
    "slug": "dune-c7",
    "rated_life_days": "10.5",
    "adults": ["calf", "upper_arm.back"],
    "children": ["upper_arm.back"],
}


def test_a_model_is_proposed_with_the_sites_that_its_instructions_name(browser_of, stranger):
    browser = browser_of(stranger)
    assert browser.post(ADDRESS, TOLD)["Location"] == "/wears/"
    (proposal,) = proposals()
    assert (proposal.slug, float(proposal.rated_life_days)) == ("dune-c7", 10.5)
    named = {licence["site"]: licence["ages"] for licence in proposal.licensed_sites}
    assert named == {"calf": "adult", "upper_arm.back": "all"}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"slug": "A Brand"}, "such as demo-a14"),
        ({"rated_life_days": "long"}, "A number"),
        ({"rated_life_days": "0"}, "put right"),
        ({"adults": ["nose"]}, "put right"),
    ],
)
def test_what_is_wrong_is_said(browser_of, stranger, changed, said):
    answer = browser_of(stranger).post(ADDRESS, TOLD | changed)
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert proposals() == []
