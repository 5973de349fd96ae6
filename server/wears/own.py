"""A member's own wears as far as an own estimate needs them: where each was worn, and the sums of its pairs."""

from pooling import summary as summaries
from pooling.own import OwnWear
from server.accounts.models import Account, Wearer
from server.accounts.selectors import wears_held_on
from server.core.chunks import chunks
from server.wears.models import Wear
from server.wears.transitions import State


def own_wears(account: Account, wearer: Wearer) -> list[OwnWear]:
    """The wears on one body. A copy counts once; what is shown as left out by moderators does not count.

    They stay when the readings are erased on their date: the sums are kept as long as the wear is.
    """
    wears = Wear.objects.select_related("summary").exclude(shown_state=State.EXCLUDED)
    found = {
        OwnWear.of(
            wear.header["site"],
            wear.header["sensor_model"],
            summaries.from_bytes(bytes(wear.summary.payload)).strata["all"],
        )
        for chunk in chunks(wears_held_on(account, wearer))
        for wear in wears.filter(id__in=chunk)
    }
    return sorted(found, key=lambda wear: (wear.site, wear.sensor_model, wear.n_pairs, wear.mean_log))
