"""What wears tell those above them.

`states_shown` is sent at the end of a cut-off, in its transaction: from then on owners see what was decided so far.
"""

from django.dispatch import Signal

states_shown = Signal()
