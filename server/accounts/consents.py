"""The consent text: what happens, in plain words, before anybody agrees. A changed text gets a new version."""

CONSENT_VERSION = 1

CONSENT_TEXT = "\n".join(
    (
        "Two switches, each yours to turn on or off at any time.",
        "Keep: your wears are kept so that you can read your own reports. Readings are erased twelve months after "
        "upload; you can erase them at any time before. Turning this off stops further uploads and erases nothing by "
        "itself: erase a wear, or close the account.",
        "Pool: a wear that you give to a group may be counted in pooled figures, together with the wears of at least "
        "four other people. Moderators of the group see its readings without your name and without your other wears. "
        "A wear belongs to at most one group.",
        "Taking back a wear that has not been counted yet: it never will be.",
        "Taking back a wear that has been counted: its readings, its summary and the link from your account to it are "
        "erased at once. Sums over at least five people that already count it cannot be taken apart. They stay in the "
        "figures and end at a date that was fixed when it was first counted, at most 24 editions later. The wear never "
        "comes back. A keyed mark stays, from which no reading can be had, so that the same record is not counted a "
        "second time; a changed copy of it would not be known again. Until you close the account it also stays noted, "
        "without any value, which sums of which site and sensor model have a place of yours.",
        "Figures that have been published stay as they are. Whether your group also feeds the figures of everyone was "
        "fixed when it was founded and is said on its page.",
        "The figures describe groups. They are not for treatment.",
    )
)
