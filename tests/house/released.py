"""What the newest release stands on: for each app its last migration. Filled in with each release, by hand.

From then on a migration must be one that the released code survives beside it, since on many machines some processes
are older than the schema for a while, and one that can be undone (docs/OPERATIONS.md, Upgrades).
"""

VERSION: str | None = None
LAST_MIGRATIONS: dict[str, str] = {}

# "app.model.field" or "app.model" that the release before this one neither reads nor writes any more.
LEFT_ALONE: frozenset[str] = frozenset()
