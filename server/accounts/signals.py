"""What accounts tell the apps above them.

`account_closing(account)` is sent inside the transaction in which an account is erased, while its links are still
there, so that whatever hangs on them goes with it or not at all.

`keeping_ended(account)`, `pooling_ended(account)` and `guarding_ended(account)` are sent inside the transaction in
which a member turns that switch off.
"""

from django.dispatch import Signal

account_closing = Signal()
keeping_ended = Signal()
pooling_ended = Signal()
guarding_ended = Signal()
