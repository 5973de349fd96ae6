"""What the sweep does for accounts, and what is done again after a restore."""

from datetime import date

from server.accounts import agreements, joining, plans, recovery, second_factor, selectors, services, throttles
from server.accounts.models import RecoveryCode, RememberedMapping
from server.core import doctor, jobs, journal, rotation


def drop_what_expired(today: date) -> None:
    services.drop_expired_tokens(today)
    services.drop_expired_sessions()
    throttles.drop_past_tries()
    joining.drop_expired()
    agreements.drop_ended_records(today)


jobs.register_sweep("expired sign-ins dropped", drop_what_expired)
journal.register(services.Noted.CLOSED_ACCOUNT, services.close_noted_accounts)
journal.register(agreements.SWITCHED_OFF, agreements.switch_off_noted)
journal.register(plans.DROPPED_PLAN, plans.drop_noted_plans)
journal.register("sign-ins", services.end_every_sign_in)
rotation.register_marks(RecoveryCode, digest=recovery.RECOVERY_CODE)
rotation.register_marks(RememberedMapping, mark=selectors.COLUMN_MAPPING)
rotation.register("secrets of second factors", second_factor.carry_secrets)
doctor.register("chains of consents", selectors.told_of_broken_records)
