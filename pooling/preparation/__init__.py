"""From a person's exports and answers to wears ready to be sent: importing, pairing and findings in one go.

What only the person can know comes back as a question and is never guessed. Everything lives in memory; no `repr` here
shows a reading or a time.
"""

from pooling.preparation.given import Answers, Asked, Export, Prepared, PreparedWear
from pooling.preparation.preparing import draft_record, prepare

__all__ = ["Answers", "Asked", "Export", "Prepared", "PreparedWear", "draft_record", "prepare"]
