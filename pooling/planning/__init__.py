"""Fair tests: which site when, by lot; which fingersticks when; and what that can show."""

from pooling.planning.calendar import plan_ics
from pooling.planning.outlook import Outlook, outlook
from pooling.planning.plan import Plan, make_plan, rows
from pooling.planning.precision import Precision, WearSpread, enough_pairs, precision, wear_spread
from pooling.planning.request import PlanInvalid, PlanRequest, Resting, Spot

__all__ = [
    "Outlook",
    "Plan",
    "PlanInvalid",
    "PlanRequest",
    "Precision",
    "Resting",
    "Spot",
    "WearSpread",
    "enough_pairs",
    "make_plan",
    "outlook",
    "plan_ics",
    "precision",
    "rows",
    "wear_spread",
]
