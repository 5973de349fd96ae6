from pooling.simulate import DEMO_GROUPS, DEMO_MODELS, DEMO_SITES
from server.demo.scenario import scenario


def test_the_scenario_fits_the_invented_community():
    story = scenario()
    assert [(group.slug, group.people) for group in story.groups] == [
        (plan.slug, plan.n_people) for plan in DEMO_GROUPS
    ]
    assert story.founded_on < story.first_cut_off
    assert story.planted_site not in DEMO_SITES
    assert story.planted_model in {model.slug for model in DEMO_MODELS}
