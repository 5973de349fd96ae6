import os

# From SQLite to PostgreSQL there is only a way where there is a PostgreSQL, and only SQLite can be told that its disk
# is full: each run of the suite has its own.
ON_POSTGRESQL = os.environ.get("DATABASE_URL", "").startswith("postgres")
collect_ignore = ["test_full_disk.py"] if ON_POSTGRESQL else ["test_moving_over.py"]
