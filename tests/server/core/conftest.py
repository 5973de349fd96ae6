import os

# PostgreSQL alone has accounts, and from SQLite a way leads to it; only SQLite can be told that its disk is full. Each
# run of the suite has its own.
ON_POSTGRESQL = os.environ.get("DATABASE_URL", "").startswith("postgres")
collect_ignore = ["test_full_disk.py"] if ON_POSTGRESQL else ["test_moving_over.py", "test_grants.py"]
