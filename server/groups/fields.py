"""What groups store, and why."""

from server.core.register import DataClass, Field

WHILE_LISTED = "as long as the group has an edition or a wear"
WHILE_MEMBER = "until the member leaves or the account is closed"
UNTIL_USED = "until it is used up, two months at most"
WHILE_ROUND = "until a year after its start month"
WHILE_IN_ROUND = "until a year after the round's start month, or until the member leaves"
MEMBERS = "the group's members"
UNTIL_NEXT = "until the next cut-off"
READERS = "everybody for a public group, otherwise its members"

FIELDS = {
    "Group.id": Field("names the group's cells in the pool", "the service", WHILE_LISTED, DataClass.INTERNAL),
    "Group.slug": Field("its address", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Group.name": Field("its name on pages", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Group.description": Field("what it is about", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Group.public": Field("who may read it", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Group.feeds_everyone": Field("whether its wears may count in everyone", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Group.wearers": Field("whom its figures are about", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Group.reserved": Field("marks the operator's group", "the service", WHILE_LISTED, DataClass.PUBLIC),
    "Group.founded_on": Field("orders a group's history", "operator", WHILE_LISTED, DataClass.INTERNAL),
    "Membership.id": Field("pseudonym", "the group's moderators, the member", WHILE_MEMBER, DataClass.IDENTIFYING),
    "Membership.group": Field("what one belongs to", "the member", WHILE_MEMBER, DataClass.IDENTIFYING),
    "Membership.account": Field("who belongs to it", "the service", WHILE_MEMBER, DataClass.IDENTIFYING),
    "Membership.role": Field("what one may do there", "the group's moderators", WHILE_MEMBER, DataClass.INTERNAL),
    "Invitation.id": Field("row number, random", "the service", UNTIL_USED, DataClass.INTERNAL),
    "Invitation.group": Field("what it opens", "the service", UNTIL_USED, DataClass.INTERNAL),
    "Invitation.code_sha256": Field("checks a code", "the service", UNTIL_USED, DataClass.INTERNAL),
    "Invitation.uses_left": Field("how many may still join", "the service", UNTIL_USED, DataClass.INTERNAL),
    "Invitation.expires_on": Field("until when it serves", "the moderator", UNTIL_USED, DataClass.INTERNAL),
    "Invitation.inviter_mark": Field("counts a moderator's; keyed", "the service", UNTIL_USED, DataClass.INTERNAL),
    "InvitedTally.id": Field("row number, random", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "InvitedTally.inviter_mark": Field("whose invitations; keyed", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "InvitedTally.interval": Field("between which cut-offs", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "InvitedTally.n_joined": Field("slows down invented members", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "JointRound.id": Field("names the round", MEMBERS, WHILE_ROUND, DataClass.INTERNAL),
    "JointRound.group": Field("whose round it is", MEMBERS, WHILE_ROUND, DataClass.INTERNAL),
    "JointRound.sensor_model": Field("what is worn", MEMBERS, WHILE_ROUND, DataClass.INTERNAL),
    "JointRound.site_a": Field("where it is worn", MEMBERS, WHILE_ROUND, DataClass.INTERNAL),
    "JointRound.site_b": Field("where it is worn", MEMBERS, WHILE_ROUND, DataClass.INTERNAL),
    "JointRound.start_month": Field("when it begins", MEMBERS, WHILE_ROUND, DataClass.INTERNAL),
    "RoundPlace.id": Field("row number, random", "the service", WHILE_IN_ROUND, DataClass.INTERNAL),
    "RoundPlace.round": Field("what one takes part in", "the member", WHILE_IN_ROUND, DataClass.IDENTIFYING),
    "RoundPlace.membership": Field("who takes part", "the service", WHILE_IN_ROUND, DataClass.IDENTIFYING),
    "RoundPlace.begins_with_b": Field("the order drawn", "the member", WHILE_IN_ROUND, DataClass.IDENTIFYING),
    "RoundPlace.plan": Field("marks uploads as drawn by lot", "the member", WHILE_IN_ROUND, DataClass.IDENTIFYING),
    "ProtocolPreview.id": Field("row number, random", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "ProtocolPreview.group": Field("whose rules were thought of", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "ProtocolPreview.interval": Field("between which cut-offs", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "ProtocolPreview.rules_sha256": Field("gives the same answer again", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "ProtocolPreview.asked_on": Field("one question a day", "the service", UNTIL_NEXT, DataClass.INTERNAL),
    "ProtocolPreview.people_at_least": Field("what was told", "the moderators", UNTIL_NEXT, DataClass.INTERNAL),
    "ProtocolPreview.people_below": Field("what was told", "the moderators", UNTIL_NEXT, DataClass.INTERNAL),
    "Protocol.id": Field("row number, random", "the service", WHILE_LISTED, DataClass.INTERNAL),
    "Protocol.group": Field("whose rules they are", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.version": Field("lets decisions and editions name it", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.k": Field("fewest people behind a figure", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.fewest_pairs": Field("fewest pairs of a wear that counts", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.widest_gap_min": Field("which pairs count", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.highest_rate_mg_dl_min": Field("which pairs count", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.first_day": Field("whether the first day counts", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.accepted_models": Field("which wears may be given", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.accepted_sites": Field("which wears may be given", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.accepted_meter_classes": Field("which wears may be given", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.editions_before_model_given_up": Field("how a wear is counted", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.editions_before_site_given_up": Field("how a wear is counted", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.months_between_editions": Field("when figures are made", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.room": Field("whether its wears count with everyone's alone", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.joint_rounds": Field("whether rounds may be opened", READERS, WHILE_LISTED, DataClass.PUBLIC),
    "Protocol.two_person_publishing": Field(
        "whether a second moderator must agree to an edition", READERS, WHILE_LISTED, DataClass.PUBLIC
    ),
    "Protocol.curated_by_everyone": Field("who looks at wears", READERS, WHILE_LISTED, DataClass.PUBLIC),
}
