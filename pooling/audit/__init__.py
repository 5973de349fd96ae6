"""The independent auditor: can sums that were ever sealed be combined so that too few people stand behind the result?

It shares no code with what plans, seals or publishes. It reads no values, only which atoms every sum adds up and what
is published as counts. Every published figure is computed from such sums, so what no combination of rows isolates, no
figure can.
"""

from pooling.audit.gate import audit
from pooling.audit.intervals import Intervals, Pinned, feasible, pinned
from pooling.audit.rows import AUDIT_VERSION, AuditRow
from pooling.audit.tellings import Shared, Telling, people_told, wears_told
from pooling.audit.verdict import ComponentVerdict, Verdict
from pooling.audit.versions import Changes, Version, changes

__all__ = [
    "AUDIT_VERSION",
    "AuditRow",
    "Changes",
    "ComponentVerdict",
    "Intervals",
    "Pinned",
    "Shared",
    "Telling",
    "Verdict",
    "Version",
    "audit",
    "changes",
    "feasible",
    "people_told",
    "pinned",
    "wears_told",
]
