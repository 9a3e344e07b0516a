"""Acids against printed density tables and a general library of chemical properties (`chemicals`)."""

import pytest
from chemicals import MW, iapws95_rho
from chemicals.dippr import EQ105, EQ116
from chemicals.volume import rho_data_Perry_8E_105_l, rho_data_VDI_PPDS_2

from bot.rubber.acids import Acid, acid_g_for_ammonia, density_of_acid, molar_mass, pure_g_per_ml
from bot.rubber.reference import value

CAS = {Acid.FORMIC: "64-18-6", Acid.ACETIC: "64-19-7"}
AMMONIA = "7664-41-7"
ROOM = 293.15

TOOLBOX_FORMIC = [(1, 1.0006), (5, 1.0102), (10, 1.0224), (20, 1.0467), (40, 1.0935)]
CHEMISTER_FORMIC = [(60, 1.1364), (84, 1.193), (86, 1.1977), (100, 1.2196)]
TOOLBOX_ACETIC = [
    (1, 0.9996),
    (5, 1.0052),
    (10, 1.0121),
    (20, 1.0250),
    (30, 1.0369),
    (40, 1.0474),
    (50, 1.0562),
    (70, 1.0673),
    (100, 1.0477),
]


@pytest.mark.parametrize(
    ("acid", "percent", "density"),
    [(Acid.FORMIC, *row) for row in TOOLBOX_FORMIC + CHEMISTER_FORMIC]
    + [(Acid.ACETIC, *row) for row in TOOLBOX_ACETIC],
)
def test_densities_of_the_printed_tables(acid: Acid, percent: float, density: float) -> None:
    """Printed: Engineering ToolBox d_1953 (20 C); formic acid from 60 % on: chemister.ru (20 C)."""
    assert density_of_acid(acid, percent) == density


def test_the_two_printed_densities_of_ten_percent_formic_acid_differ_little() -> None:
    """Printed: 1.0224 (ToolBox) and 1.0247 (chemister.ru)."""
    assert density_of_acid(Acid.FORMIC, 10) == pytest.approx(1.0247, rel=0.003)


def test_85_percent_formic_acid_lies_between_84_and_86() -> None:
    """Derived, half-way between the printed rows: 1.1954, 1.016 g pure in a millilitre."""
    assert density_of_acid(Acid.FORMIC, 85) == pytest.approx(1.1954, abs=1e-4)
    assert pure_g_per_ml(Acid.FORMIC, 85) == pytest.approx(1.016, abs=5e-4)


@pytest.mark.parametrize("acid", list(Acid))
def test_pure_acids_by_two_handbook_equations(acid: Acid) -> None:
    """Perry's Handbook, 8th edition, and the VDI Heat Atlas, as carried by the library: within half a percent."""
    _, c1, c2, c3, c4, *_ = rho_data_Perry_8E_105_l.loc[CAS[acid]]
    perry = EQ105(ROOM, c1, c2, c3, c4)
    _, mass, critical, density, a, b, c, d = rho_data_VDI_PPDS_2.loc[CAS[acid]]
    vdi = EQ116(ROOM, critical, density, a, b, c, d)

    assert density_of_acid(acid, 100) == pytest.approx(perry * mass / 1e6, rel=0.006)
    assert density_of_acid(acid, 100) == pytest.approx(vdi / 1000, rel=0.005)


@pytest.mark.parametrize("acid", list(Acid))
def test_molar_masses(acid: Acid) -> None:
    assert molar_mass(acid) == pytest.approx(MW(CAS[acid]), abs=0.006)
    assert value("ammonia_molar_mass") == pytest.approx(MW(AMMONIA), abs=0.006)


@pytest.mark.parametrize("acid", list(Acid))
def test_a_mole_of_ammonia_takes_up_a_mole_of_acid(acid: Acid) -> None:
    assert acid_g_for_ammonia(acid, MW(AMMONIA)) == pytest.approx(MW(CAS[acid]), rel=5e-4)


def test_acetic_and_formic_rates_are_the_same_moles() -> None:
    """Derived from Morgan 1922, pp. 78 and 113: 1 : 1200 of latex of 149.7 g/L, glacial acid of 1.0477 g/ml."""
    acetic = 1000 / 1200 * 1.0477 / 0.1497
    formic = acetic * MW(CAS[Acid.FORMIC]) / MW(CAS[Acid.ACETIC])

    assert value("acetic_per_kg") == pytest.approx(acetic, rel=0.01)
    assert value("formic_per_kg") == pytest.approx(formic, rel=0.01)


def test_water_at_29_celsius() -> None:
    """IAPWS-95, as carried by the library."""
    assert value("water_density") == pytest.approx(iapws95_rho(302.15, 101325) / 1000, abs=1e-4)
