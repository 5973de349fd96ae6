"""What a group tells those above it.

`member_left(group, account)` is sent inside the transaction in which a membership ends, so that whatever else has to
go goes with it or not at all.
"""

from django.dispatch import Signal

member_left = Signal()
