"""The methods text of one edition."""

import hashlib

from pooling.edition import TABLES
from pooling.edition.dictionary import TITLES
from pooling.edition.methods import CHANNELS, FAR_OFF, NOT_KNOWN, methods_text
from pooling.hierarchy import CHANNELS as FITTED


def test_it_has_a_box_for_every_table_and_the_facts_of_this_edition(document):
    text = methods_text(document)
    for table in TABLES:
        box = text.split(f"## {TITLES[table]}\n")[1].split("\n## ")[0]
        assert all(f"| {what} | " in box for what in ("Quantity", "Of whom", "Of what", "What is left out"))
    assert "fewer than 5 people (k)" in text
    assert document["environment"] in text
    assert document["audit"]["rule"] in text
    assert document["caution"]["short"] in text
    assert all(f"- {sentence}\n" in text for sentence in NOT_KNOWN)
    shown = document["about"]["n_comparisons"]
    assert f"Comparisons shown: {shown['all']}, of which {shown['primary']} against" in text
    assert f"the intervals of about {0.05 * shown['all']:.1f} would leave out zero by chance" in text
    settled = [row for row in document["tables"]["contrasts"] if row["difference_points"]["lower"] > 0]
    assert settled
    assert f"{len(settled)} do; of those about {0.1 * len(settled):.1f} point the wrong way" in text


def test_it_states_the_seed_of_every_channel_that_is_fitted(document):
    assert tuple(CHANNELS) == FITTED
    text = methods_text(document)
    for part in (*FITTED, "combined"):
        seed = int(hashlib.sha256(f"hill-walkers|7|1|{part}".encode()).hexdigest(), 16)
        assert f"- `{part}`: {seed:#x}" in text


def test_a_table_without_rows_is_said_to_have_none(document):
    document["tables"]["skin"] = []
    assert "No row in this edition." in methods_text(document).split(TITLES["skin"])[1].split("\n## ")[0]


def test_the_bound_of_readings_far_off_has_a_box_and_names_its_column(document):
    box = methods_text(document).split(f"## {FAR_OFF}\n")[1].split("\n## ")[0]
    assert any("far_per_1000" in row for row in document["tables"]["sites"])
    assert "`far_per_1000_at_most`" in box
    assert "zones C to E" in box
    assert "under 30 people" in box


def test_time_on_the_skin_is_of_wears_that_were_counted_not_of_all(document):
    """A wear counts once enough people wait at its site: until then it is in no share."""
    box = methods_text(document).split(f"## {TITLES['survival']}\n")[1].split("\n## ")[0]
    assert "whose wears were counted here" in box
    assert "still wait for enough people" in box
    assert "all wears" not in box
