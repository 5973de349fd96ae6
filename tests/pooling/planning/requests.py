"""Fair tests as somebody may ask for them."""

from typing import Any

from pooling.planning import PlanRequest, Spot

ARM, THIGH, CALF = "upper_arm.back", "thigh.front", "calf"


def asked(*sites: str, **changes: Any) -> PlanRequest:
    return PlanRequest(spots=tuple(Spot(site) for site in sites or (ARM, THIGH)), sensor_model="demo-a14", **changes)
