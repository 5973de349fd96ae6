import os

# From SQLite to PostgreSQL there is only a way where there is a PostgreSQL: the run on it has this test.
collect_ignore = [] if os.environ.get("DATABASE_URL", "").startswith("postgres") else ["test_moving_over.py"]
