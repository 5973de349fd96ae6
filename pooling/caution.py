"""The one caution, shown with every result, chart, download and command. A changed text gets a new version number."""

CAUTION_VERSION = 1

CAUTION_SHORT = (
    "Not for treatment: do not dose, treat a low, calibrate or set alarms by these figures; a site that the sensor's "
    "own instructions do not name is off-label and at the wearer's own risk."
)

CAUTION_TEXT = "\n".join(
    (
        "A body site that the sensor's own instructions do not name for the wearer's age is off-label. How accurate "
        "and how safe the sensor is there has not been established, however good a figure looks, and wearing it there "
        "is at the wearer's own risk.",
        "The figures come from people who chose to take part and from fingerstick meters that have errors of their "
        "own. They describe groups and the past. They cannot say what one sensor will do on one body, and few reports "
        "of harm do not mean that there is little harm.",
        "Do not use them to dose insulin, to treat a low, to calibrate a sensor, or to set alarms or automated insulin "
        "delivery.",
        "They say nothing about children unless a row says so, and nothing about pregnancy, dialysis, people who do "
        "not feel their lows, or substances that disturb a sensor.",
        "When symptoms and a reading disagree, check with a fingerstick. The sensor's instructions, your clinician and "
        "the rules where you live come first.",
        "Keep off muscle, scars and irritated or lumpy skin, and keep the distance from insulin sites that the "
        "device's instructions state.",
        "Blisters, spreading redness, pus or fever: take the sensor off and see a clinician. Report device faults to "
        "the maker and to the authority for medical devices.",
        "Words about how sure a figure is are about statistics; they are no clinical grading.",
    )
)
