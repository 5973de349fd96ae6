"""One of several processes that write to an SQLite file as fast as they can; each transaction reads, then writes."""

import sys

from django.conf import settings


def main(file: str, name: str, n_transactions: int) -> None:
    from django.db import connection, transaction

    connection.ensure_connection()
    print("ready", flush=True)  # noqa: T201
    sys.stdin.readline()
    for number in range(n_transactions):
        with connection.cursor() as cursor:
            if number % 5 == 0:  # one statement by itself
                cursor.execute("INSERT INTO turns (writer) VALUES (%s)", [name])
                continue
            with transaction.atomic():
                cursor.execute("SELECT count(*) FROM turns WHERE writer = %s", [name])
                cursor.execute("INSERT INTO turns (writer) VALUES (%s)", [name])


if __name__ == "__main__":
    from pathlib import Path
    from urllib.parse import urlsplit

    from server.databases import described

    file, name, n_transactions = sys.argv[1:]
    settings.configure(
        DATABASES={"default": described(urlsplit(f"sqlite://{file}"), data_dir=Path(file).parent, at_once=1)}
    )
    import django

    django.setup()
    main(file, name, int(n_transactions))
