import pytest

from server.core.glucose import glucose_text


# 18.0156 mg/dL per mmol/L (molar mass of glucose, 180.156 g/mol): 100 / 18.0156 = 5.5507…
@pytest.mark.parametrize(
    ("value_mg_dl", "unit", "text"),
    [(100, "mg/dL", "100"), (100, "mmol/L", "5.6"), (70, "mmol/L", "3.9"), (99.6, "mg/dL", "100")],
)
def test_values_are_shown_as_displays_do(value_mg_dl, unit, text):
    assert glucose_text(value_mg_dl, unit) == text
