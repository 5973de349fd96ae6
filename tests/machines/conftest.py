import os

# Several machines share a PostgreSQL: the run on it has this test.
collect_ignore = [] if os.environ.get("DATABASE_URL", "").startswith("postgres") else ["test_many.py"]
