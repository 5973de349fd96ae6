import os

# The database that is killed, and that has accounts, is a PostgreSQL: the run on it has these tests.
ON_POSTGRESQL = os.environ.get("DATABASE_URL", "").startswith("postgres")
collect_ignore = [] if ON_POSTGRESQL else ["test_kills.py", "test_accounts.py"]
