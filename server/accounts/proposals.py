"""Members propose entries of the catalogue of sensor models; who did is not kept."""

from typing import Any

from server.accounts.models import Account
from server.accounts.throttles import count_try
from server.core.catalogue import propose
from server.core.models import SensorModelProposal


def propose_model(slug: str, *, account: Account, **facts: Any) -> SensorModelProposal:
    count_try("proposal", str(account.id))
    return propose(slug, **facts)
