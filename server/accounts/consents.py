"""The consent text: what happens, in plain words, before anybody agrees. A changed text gets a new version."""

CONSENT_VERSION = 2

CONSENT_TEXT = "\n".join(
    (
        "Two switches, each yours to turn on or off at any time, and a third for whoever keeps wears of a child.",
        "Keep: your wears are kept so that you can read your own reports. Readings are erased twelve months after "
        "upload; you can erase them at any time before. Turning this off erases every wear that you keep, at once and "
        "for good, as if you had erased each of them. You may turn it on again and begin anew.",
        "Pool: a wear that you give to a group may be counted in pooled figures, together with the wears of at least "
        "four other people. Moderators of the group see its readings without your name and without your other wears. "
        "A wear belongs to at most one group. Turning this off takes back what has not been counted yet.",
        "Guardian: you may decide for the children whose wears you keep, as their parent or guardian. You say in which "
        "month each of them comes of age; from then on nothing more of theirs is kept or counted on your word. Turning "
        "this off erases the wears of all children that you keep.",
        "Taking back a wear that has not been counted yet: it never will be.",
        "Taking back or erasing a wear that has been counted: its readings, its summary and the link from your account "
        "to it are erased at once. Sums over at least five people that already count it cannot be taken apart. They "
        "stay in the figures and end at a date that was fixed when it was first counted, at most 24 editions later. "
        "The wear never comes back. Keyed marks stay, from which no reading can be had, so that neither the same "
        "record nor a copy with some readings changed is counted a second time; wears with fewer than four different "
        "pairs cannot be told apart and are not known again. Until you close the account it also stays noted, without "
        "any value, which sums of which site and sensor model have a place of yours.",
        "Figures that have been published stay as they are. Whether your group also feeds the figures of everyone was "
        "fixed when it was founded and is said on its page.",
        "What you agreed to and when is noted under a random name that only your account knows. The note holds no "
        "reading; it stays for 25 months after the account is closed, and then nobody can tell any more whose it is.",
        "When this text changes you are asked again. Until you agree, nothing new is kept or given; what you kept and "
        "gave before stays under the text that you read then.",
        "The figures describe groups. They are not for treatment.",
    )
)


def paragraphs() -> dict[str, object]:
    """The same text as pages set it: what each switch is, by its word that it begins with, and what holds for all."""
    first, *rest = CONSENT_TEXT.split("\n")
    switches = {paragraph.partition(":")[0].lower(): paragraph for paragraph in rest[:3]}
    return {"first": first, "switches": switches, "all": rest[3:]}
