"""What accounts tell the apps above them.

`account_closing(account)` is sent inside the transaction in which an account is erased, while its links are still
there, so that whatever hangs on them goes with it or not at all.

`pooling_ended(account)` is sent inside the transaction in which a member turns the pool switch off.
"""

from django.dispatch import Signal

account_closing = Signal()
pooling_ended = Signal()
