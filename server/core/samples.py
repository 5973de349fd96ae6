"""PostgreSQL keeps no samples of what people brought.

To plan queries it keeps values of columns, as they are, and shows them in pg_stats. Such a value outlives its row until
the table happens to be looked through again, and no writing anew of the table touches it. So columns that hold what
people brought or wrote are left out of it; no query chooses rows by them, but for names, of which each stands once.
"""

from collections import defaultdict
from typing import Any

from django.db import connection, models

from server.core.register import our_models

STILL_SAMPLED = """
SELECT relation, attname, format_type(atttypid, atttypmod) FROM unnest(%s::text[], %s::text[]) AS ours (relation, held)
JOIN pg_attribute ON attrelid = to_regclass(relation) AND attname = held WHERE attstattarget IS DISTINCT FROM 0
"""


def keep_none(**_: Any) -> None:
    """Forget what is sampled of such columns, and have nothing more of them sampled; for whoever owns the tables."""
    if connection.vendor != "postgresql":
        return
    quoted = connection.ops.quote_name
    changes: dict[str, list[str]] = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(STILL_SAMPLED, [list(names) for names in zip(*columns(), strict=True)])
        for table, column, kind in cursor.fetchall():
            # Telling it the type that it has makes PostgreSQL forget its samples, and nothing else.
            changes[table] += [f"ALTER {quoted(column)} TYPE {kind}", f"ALTER {quoted(column)} SET STATISTICS 0"]
        for table, of_table in changes.items():
            cursor.execute(f"ALTER TABLE {quoted(table)} {', '.join(of_table)}")


def columns() -> list[tuple[str, str]]:
    """Table and name of every column of ours that holds bytes, documents, free words or a name."""
    return sorted(
        (model._meta.db_table, str(field.column))
        for model in our_models()
        for field in model._meta.local_fields
        if isinstance(field, models.BinaryField | models.JSONField | models.TextField)
        or (isinstance(field, models.CharField) and field.unique)
    )
