"""A sign of life of the sweep, left with the broker for a while: any machine can ask for it, no table holds a time."""

import redis
from django.conf import settings

SIGN = "commonwear:sweep"
SHORTEST_S = 60


class Unknown(Exception):
    """The broker cannot be asked."""


def _broker() -> "redis.Redis":
    return redis.Redis.from_url(
        settings.CELERY_BROKER_URL.replace("redis+socket:", "unix:", 1), socket_connect_timeout=2, socket_timeout=2
    )


def leave_sign(*, every_s: float) -> None:
    """Said at each round. A broker that is away is told of elsewhere."""
    try:
        with _broker() as broker:
            broker.set(SIGN, "", ex=max(SHORTEST_S, round(10 * every_s)))
    except redis.RedisError:
        pass


def is_heard() -> bool:
    try:
        with _broker() as broker:
            return bool(broker.exists(SIGN))
    except redis.RedisError:
        raise Unknown from None
