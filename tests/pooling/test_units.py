import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.units import HIGH_ABOVE, LOW_BELOW, MG_DL_PER_MMOL_L, from_mg_dl, to_mg_dl


def test_factor_is_a_tenth_of_the_molar_mass():
    # Glucose C6H12O6 from standard atomic weights (C 12.011, H 1.008, O 15.999; IUPAC, from memory): 180.156 g/mol,
    # the molar mass that LOINC group LG7967-5 uses.
    molar_mass = 6 * 12.011 + 12 * 1.008 + 6 * 15.999
    assert pytest.approx(molar_mass / 10, abs=5e-5) == MG_DL_PER_MMOL_L


@pytest.mark.parametrize(("mg_dl", "mmol_l"), [(54, 3.0), (70, 3.9), (100, 5.6), (180, 10.0), (250, 13.9)])
def test_consensus_values_pair_up_at_one_decimal(mg_dl, mmol_l):
    # Paired values of the time-in-range consensus, Diabetes Care 2019;42:1593 (54, 100 and 250 from memory).
    assert from_mg_dl([mg_dl], "mmol/L").round(1).tolist() == [mmol_l]


@pytest.mark.parametrize(("mg_dl", "mmol_l"), [(70, 3.8855), (180, 9.9913), (100, 5.5507), (400, 22.2030)])
def test_conversion_to_four_decimals(mg_dl, mmol_l):
    assert from_mg_dl([mg_dl], "mmol/L") == pytest.approx([mmol_l], abs=5e-5)


def test_range_edges_are_agreed_figures_and_not_conversions():
    assert to_mg_dl(HIGH_ABOVE["mmol/L"], "mmol/L") > HIGH_ABOVE["mg/dL"]
    assert to_mg_dl(LOW_BELOW["mmol/L"], "mmol/L") > LOW_BELOW["mg/dL"]


def test_there_and_back():
    values = np.linspace(20, 600, 581)
    assert to_mg_dl(from_mg_dl(values, "mmol/L"), "mmol/L") == pytest.approx(values, rel=1e-15)


@pytest.mark.parametrize("unit", ["mg/dl", "mmol", ""])
@pytest.mark.parametrize("convert", [to_mg_dl, from_mg_dl])
def test_unit_is_spelled_exactly(convert, unit):
    with pytest.raises(InvalidInput, match="spelled exactly"):
        convert([100], unit)
