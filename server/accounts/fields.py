"""What accounts store, and why."""

from server.core.register import DataClass, Field

WHILE_OPEN = "until the account is closed"
PROOF = "25 months after the account is closed; without its pseudonym from then on"
UNTIL_USED = "until it is used or the account is closed"
UNTIL_OFF = "until it is switched off or the account is closed"
UNTIL_EXPIRY = "until sign-out, expiry after 90 days, recovery, or the account is closed"
UNTIL_DROPPED = "until the account drops the plan or is closed"
UNTIL_FORGOTTEN = "until the account forgets it or is closed"
WHILE_HELD = "until the wear is taken back after it was counted, is erased, or the account is closed"
A_SESSION = "until sign-out, 12 hours unused, 7 days, recovery, or the account is closed"
AN_HOUR = "one hour"
INVITED = "until somebody joins with it, or 60 days"

FIELDS = {
    "Account.id": Field("names the account inside the service", "the service", WHILE_OPEN, DataClass.IDENTIFYING),
    "Account.sign_in_name": Field("made up here; signing in", "the account", WHILE_OPEN, DataClass.IDENTIFYING),
    "Account.password": Field("argon2 hash; signing in", "the service", WHILE_OPEN, DataClass.IDENTIFYING),
    "Account.joined_on": Field("counts from the next cut-off on", "the cut-off", WHILE_OPEN, DataClass.INTERNAL),
    "Account.pseudonym": Field("finds its consents; random", "the service", WHILE_OPEN, DataClass.IDENTIFYING),
    "Account.is_active": Field("lets the operator stop an account", "operator", WHILE_OPEN, DataClass.INTERNAL),
    "RecoveryCode.id": Field("row number, random", "the service", UNTIL_USED, DataClass.INTERNAL),
    "RecoveryCode.account": Field("whose code it is", "the service", UNTIL_USED, DataClass.IDENTIFYING),
    "RecoveryCode.digest": Field("keyed mark of the code", "the service", UNTIL_USED, DataClass.IDENTIFYING),
    "RecoveryCode.key_version": Field("which keys made the mark", "operator", UNTIL_USED, DataClass.INTERNAL),
    "SecondFactor.account": Field("whose it is", "the service", UNTIL_OFF, DataClass.IDENTIFYING),
    "SecondFactor.secret": Field("encrypted; checks one-time codes", "the service", UNTIL_OFF, DataClass.IDENTIFYING),
    "SecondFactor.confirmed": Field("whether codes are asked for", "the account", UNTIL_OFF, DataClass.INTERNAL),
    "SecondFactor.last_step": Field(
        "no code serves twice; the half minute of the last one", "the service", UNTIL_OFF, DataClass.IDENTIFYING
    ),
    "Token.digest": Field("SHA-256 of a bearer token", "the service", UNTIL_EXPIRY, DataClass.IDENTIFYING),
    "Token.account": Field("who is signed in with it", "the service", UNTIL_EXPIRY, DataClass.IDENTIFYING),
    "Token.expires_on": Field("ends the sign-in", "the service", UNTIL_EXPIRY, DataClass.INTERNAL),
    "WebSession.session_key": Field("finds a browser's session", "the service", A_SESSION, DataClass.IDENTIFYING),
    "WebSession.session_data": Field("who is signed in; signed", "the service", A_SESSION, DataClass.IDENTIFYING),
    "WebSession.expire_date": Field("ends the session", "sweep", A_SESSION, DataClass.INTERNAL),
    "WebSession.account_id": Field("ends all sessions of an account", "the service", A_SESSION, DataClass.IDENTIFYING),
    "Attempt.mark": Field("slows guessing; keyed, changes every hour", "the service", AN_HOUR, DataClass.INTERNAL),
    "Attempt.hour": Field("lets the sweep drop it", "sweep", AN_HOUR, DataClass.INTERNAL),
    "Attempt.n_tries": Field("slows guessing", "the service", AN_HOUR, DataClass.INTERNAL),
    "JoiningCode.code_sha256": Field("lets one person join; digest", "the service", INVITED, DataClass.INTERNAL),
    "JoiningCode.expires_on": Field("ends the invitation", "the service, sweep", INVITED, DataClass.INTERNAL),
    "Consent.id": Field("row number, random", "the service", PROOF, DataClass.INTERNAL),
    "Consent.pseudonym": Field("who agreed, as far as the account says", "the account", PROOF, DataClass.IDENTIFYING),
    "Consent.number": Field("order of the switches turned", "the account", PROOF, DataClass.INTERNAL),
    "Consent.scope": Field("what was agreed to", "the account, operator", PROOF, DataClass.INTERNAL),
    "Consent.text_version": Field("which text was read", "the account, operator", PROOF, DataClass.INTERNAL),
    "Consent.given": Field("on or off", "the account, operator", PROOF, DataClass.INTERNAL),
    "Consent.on": Field("when", "the account, operator", PROOF, DataClass.INTERNAL),
    "Consent.chain_hash": Field("shows a later change", "the account, operator", PROOF, DataClass.INTERNAL),
    "Wearer.id": Field("tells one account's wearers apart", "the account", WHILE_OPEN, DataClass.IDENTIFYING),
    "Wearer.account": Field("who keeps wears for them", "the account", WHILE_OPEN, DataClass.IDENTIFYING),
    "Wearer.relation": Field("self, child or other", "the account", WHILE_OPEN, DataClass.IDENTIFYING),
    "Wearer.age_class": Field("whom figures are about", "the account, giving", WHILE_OPEN, DataClass.IDENTIFYING),
    "RememberedMapping.id": Field("names the mapping, random", "the account", UNTIL_FORGOTTEN, DataClass.INTERNAL),
    "RememberedMapping.account": Field("whose it is", "the account", UNTIL_FORGOTTEN, DataClass.IDENTIFYING),
    "RememberedMapping.mark": Field(
        "knows a layout again; keyed, no header word", "the service", UNTIL_FORGOTTEN, DataClass.INTERNAL
    ),
    "RememberedMapping.key_version": Field("which keys made the mark", "operator", UNTIL_FORGOTTEN, DataClass.INTERNAL),
    "RememberedMapping.content": Field(
        "roles of the columns, unit, order of dates", "the account", UNTIL_FORGOTTEN, DataClass.INTERNAL
    ),
    "Plan.id": Field("the token that its wears carry; random", "the account", UNTIL_DROPPED, DataClass.INTERNAL),
    "Plan.account": Field("whose it is", "the account", UNTIL_DROPPED, DataClass.IDENTIFYING),
    "Plan.wearer": Field("whose body it is for", "the account", UNTIL_DROPPED, DataClass.IDENTIFYING),
    "Plan.registered_month": Field("that it stood beforehand", "the account", UNTIL_DROPPED, DataClass.INTERNAL),
    "Plan.content": Field(
        "sites in their order, fingersticks by day of wear, no date", "the account", UNTIL_DROPPED, DataClass.HEALTH
    ),
    "Plan.insert_after_waking_min": Field(
        "when sensors are changed, for the calendar", "the account", UNTIL_DROPPED, DataClass.INTERNAL
    ),
    "Wearer.of_age_month": Field(
        "when a guardian's word ends", "the account, giving", WHILE_OPEN, DataClass.IDENTIFYING
    ),
    "Holding.wear_id": Field("which wear is held", "the account, the cut-off", WHILE_HELD, DataClass.IDENTIFYING),
    "Holding.account": Field(
        "whose it is: the only link", "the account, the cut-off", WHILE_HELD, DataClass.IDENTIFYING
    ),
    "Holding.wearer": Field("whom the wear is on", "the account, the cut-off", WHILE_HELD, DataClass.IDENTIFYING),
    "PlaceLabel.label": Field("random label in a sum", "the cut-off, the auditor", WHILE_OPEN, DataClass.IDENTIFYING),
    "PlaceLabel.account": Field("caps and the audit", "the cut-off, the auditor", WHILE_OPEN, DataClass.IDENTIFYING),
    "PlaceLabel.wearer": Field("caps and the audit", "the cut-off", WHILE_OPEN, DataClass.IDENTIFYING),
}
