"""What may be told to the pairing, and every reason for which a fingerstick stays alone."""

from msgspec import Struct

from pooling.errors import InvalidInput
from pooling.record import WIDEST_GAP_MIN

REASONS = {
    "repeated_row": "the same row stands in the file twice",
    "meter_out_of_range": "the meter showed no number",
    "impossible_reading": "no meter shows this number in this unit",
    "before_insertion": "it was taken before the sensor was inserted",
    "after_end": "it was taken after the end of the wear",
    "further_strip": "a third strip within two minutes; the first two are kept",
    "no_sensor_reading": "the sensor has no reading near enough",
    "sensor_out_of_range": "beside it the sensor was leaving its range or coming back",
    "already_used": "a nearer fingerstick has the sensor reading beside it",
    "incomplete_row": "the typed row lacks a fingerstick or a sensor reading",
}
"""Why a fingerstick is in no pair, in words that finish "This fingerstick was left out: …"."""


class PairingRules(Struct, frozen=True):
    """How near a sensor reading must be, and which readings may speak.

    tolerance_min
        Widest gap between a fingerstick and its sensor reading, 1 to 15. Five minutes are common practice.
    interpolate
        Between the two readings around the fingerstick instead of the nearest one. None: where the trace is so coarse
        that the nearest reading would leave fingersticks alone (readings more than twice the tolerance apart).
    before_only
        Only readings from before the fingerstick or at it. For a sensor that its wearer calibrates: what it shows
        afterwards is no longer independent of that fingerstick.
    """

    tolerance_min: int = 5
    interpolate: bool | None = None
    before_only: bool = False

    def checked(self) -> "PairingRules":
        """These rules.

        Raises
        ------
        InvalidInput
            If the tolerance lies outside 1 to 15 minutes, or if interpolation is asked for from earlier readings only.
        """
        if not 1 <= self.tolerance_min <= WIDEST_GAP_MIN:
            raise InvalidInput(f"the tolerance lies between 1 and {WIDEST_GAP_MIN} minutes")
        if self.interpolate and self.before_only:
            raise InvalidInput("interpolation needs a reading after the fingerstick; choose one of the two")
        return self
