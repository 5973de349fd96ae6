"""After a release, a migration is of a kind that the released code survives beside it, and that can be undone."""

import re

from django.db import models
from django.db.migrations import operations as ops
from django.db.migrations.loader import MigrationLoader

from tests.house.released import LAST_MIGRATIONS, LEFT_ALONE, VERSION
from tests.house.tree import ROOT

OURS = "server."
HARMLESS = (ops.CreateModel, ops.AddIndex, ops.RemoveIndex, ops.AlterModelOptions, ops.RemoveConstraint)
REMOVED = (
    "is still used by the released code: stop using it in one release, name it in LEFT_ALONE, remove it in the next"
)


def complaint_about(operation: ops.base.Operation, app: str, left_alone: frozenset[str]) -> str | None:
    """Why old code would break on what this does, or why it could not be undone; None where neither holds."""
    match operation:
        case ops.AddField(field=field) if not (field.null or field.has_db_default() or field.many_to_many):
            return f"{operation.name}: released code writes rows without it; give it null=True or db_default"
        case ops.AddField():
            return None
        case ops.RemoveField() if f"{app}.{operation.model_name}.{operation.name}" not in left_alone:
            return f"{operation.model_name}.{operation.name} {REMOVED}"
        case ops.DeleteModel() if f"{app}.{operation.name.lower()}" not in left_alone:
            return f"{operation.name} {REMOVED}"
        case ops.RemoveField() | ops.DeleteModel():
            return None
        case ops.RunPython() | ops.RunSQL():
            return None if operation.reversible else "it cannot be undone: say how, with reverse_code or reverse_sql"
        case _ if isinstance(operation, HARMLESS):
            return None
    return f"{type(operation).__name__} may break code that knows the old shape; add beside it and move in two steps"


def later_migrations() -> list[tuple[str, str, list[ops.base.Operation]]]:
    """Of our apps, what came after the release."""
    graph = MigrationLoader(None)
    return [
        (app, name, migration.operations)
        for (app, name), migration in sorted(graph.disk_migrations.items())
        if type(migration).__module__.startswith(OURS) and VERSION is not None and name > LAST_MIGRATIONS.get(app, "")
    ]


def test_migrations_after_the_release_leave_released_code_at_work():
    complaints = [
        f"{app} {name}: {complaint}"
        for app, name, operations in later_migrations()
        for operation in operations
        if (complaint := complaint_about(operation, app, LEFT_ALONE))
    ]
    assert complaints == []


def test_the_newest_release_is_the_one_that_is_marked():
    """A release that nobody marked would let the next migration through unseen."""
    changelog = (ROOT / "docs" / "CHANGELOG.md").read_text(encoding="utf-8")
    released = [
        version for version, when in re.findall(r"^## ([\d.]+), (.+)$", changelog, re.M) if when != "unreleased"
    ]
    assert (released[0] if released else None) == VERSION


NULLABLE = models.TextField(null=True)


SURVIVED = (
    ops.AddField("job", "request_id", models.CharField(max_length=9, db_default="")),
    ops.AddField("job", "told", NULLABLE),
    ops.CreateModel("Note", [("id", models.BigAutoField(primary_key=True))]),
    ops.RemoveField("job", "given_up"),
    ops.RunPython(ops.RunPython.noop, ops.RunPython.noop),
)
BREAKING = (
    ops.AddField("job", "told", models.TextField(default="")),  # a default that only new code knows
    ops.RemoveField("job", "fault"),
    ops.DeleteModel("Job"),
    ops.RenameField("job", "fault", "reason"),
    ops.AlterField("job", "fault", NULLABLE),
    ops.AddConstraint("job", models.CheckConstraint(condition=models.Q(attempts__lt=9), name="few")),
    ops.RunPython(ops.RunPython.noop),
)


def test_the_rule_tells_what_old_code_survives():
    left_alone = frozenset({"core.job.given_up"})
    assert [complaint_about(operation, "core", left_alone) for operation in SURVIVED] == [None] * len(SURVIVED)
    assert all(complaint_about(operation, "core", left_alone) for operation in BREAKING)
