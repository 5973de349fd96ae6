"""What becomes of wears when their owner leaves a group, turns a switch off, or closes the account."""

from typing import Any

from django.dispatch import receiver

from server.accounts.models import Account
from server.accounts.signals import account_closing, guarding_ended, keeping_ended, pooling_ended
from server.groups.models import Group
from server.groups.signals import member_left
from server.wears.services import erase_held_wears, erase_wears_of, take_back_from_all_groups, take_back_from_group


@receiver(member_left)
def take_back_what_waits(*, group: Group, account: Account, **_: Any) -> None:
    take_back_from_group(group, account=account)


@receiver(pooling_ended)
def take_back_all_that_waits(*, account: Account, **_: Any) -> None:
    take_back_from_all_groups(account=account)


@receiver(keeping_ended)
def erase_all_that_is_kept(*, account: Account, **_: Any) -> None:
    erase_held_wears(account)


@receiver(guarding_ended)
def erase_what_is_of_children(*, account: Account, **_: Any) -> None:
    erase_held_wears(account, children_only=True)


@receiver(account_closing)
def erase_what_is_held(*, account: Account, **_: Any) -> None:
    erase_wears_of(account)
