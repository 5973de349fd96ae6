"""The marks of counted wears that are kept, one by one."""

from server.core.keys import NUMBER_BYTES
from server.editions.models import SpentMarks


def spent_marks() -> set[bytes]:
    rows = [bytes(numbers) for numbers in SpentMarks.objects.values_list("numbers", flat=True)]
    marks = [row[start : start + NUMBER_BYTES] for row in rows for start in range(0, len(row), NUMBER_BYTES)]
    assert len(set(marks)) == len(marks)
    return set(marks)
