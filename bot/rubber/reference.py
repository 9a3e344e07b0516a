"""Every constant of latex processing: its value, unit, source and status, in one place.

A source is given by its short name ("Smith 1940"); `citation` gives the full one. Percentages of rubber and of acid are
by mass (m/m) unless the unit says otherwise; "w.b." is wet basis (water / wet mass). A value whose status is "from
memory" is a default at most. `REFERENCE_VERSION` changes by itself whenever a value changes, so that an old answer can
be explained with the constants of its day.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Status = Literal["published", "derived", "common practice, no source", "from memory"]

PUBLISHED: Status = "published"
DERIVED: Status = "derived"
PRACTICE: Status = "common practice, no source"
MEMORY: Status = "from memory"

NORMAL_80 = 1.2816
"""Standard deviations from the middle to either end of the range that holds 80 % of a normal distribution."""


@dataclass(frozen=True)
class Constant:
    """One figure of the trade."""

    name: str
    value: float
    unit: str
    source: str
    status: Status


@dataclass(frozen=True)
class Table:
    """Rows of a published table, first column rising; between two rows it is read on a straight line."""

    name: str
    rows: tuple[tuple[float, float], ...]
    unit: str
    source: str
    status: Status


SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "Smith 1940": "H. Fairfield Smith, Journal of the Rubber Research Institute of Malaya, Communication 244, 1940",
        "Smith 1947": "H. Fairfield Smith, Journal of the Rubber Research Institute of Malaya, Communication 263, 1947",
        "Morgan 1922": "S. Morgan with H. P. Stevens, The Preparation of Plantation Rubber, Constable, London, 1922",
        "Ready-reckoner paper": "Temperature corrected ready-reckoner chart for field latex, Sri Lanka, abstract",
        "UiTM AGR182": "UiTM, course AGR182, chapter 5 (composition of latex, DRC)",
        "Hwee": "E. A. Hwee, Non-rubbers and their effects, MARGMA, table 1",
        "ASTM D1076-02": "ASTM D1076-02, Rubber: concentrated, ammonia preserved, creamed and centrifuged latex",
        "US patent 4455265": "US patent 4,455,265, background: concentrate is kept with 0.6 % ammonia or more",
        "IS 3708": "Indian Standard IS 3708 (Part 1):1985, natural rubber latex, dry rubber content",
        "SNI 06-2047-2002": "Indonesian standard SNI 06-2047-2002, field latex and lump",
        "IAPWS-95": "IAPWS formulation 1995 for water, at 29 C and one atmosphere",
        "IUPAC": "IUPAC standard atomic weights",
        "Engineering ToolBox": "Engineering ToolBox, densities of aqueous solutions of organic acids, 20 C (d_1953)",
        "chemister.ru": "chemister.ru, density of formic acid solutions, 20 C",
        "Liquid smoke paper": "Indonesian paper on liquid smoke as a coagulant, abstract",
        "Sei Silau thesis": "Thesis on sheet making at Sei Silau estate, Indonesia",
        "USU trial": "USU, trial on the coagulation of 700 mL portions, Indonesia",
        "Tripura grower": "A grower's account of sheet making, Tripura, India, 2013",
        "Songkhla cooperative": "Paper on solar dryers at a sheet cooperative, Songkhla, Thailand, 2016",
        "Thai DSS": "Thai Department of Science Service, sheet making, after Yang Thai vol. 8 no. 8",
        "Indonesian slides": "Training slides on ribbed smoked sheet, Indonesia",
        "Hewapathirana 2011": "Hewapathirana et al. 2011, Uva Wellassa University, Sri Lanka",
        "Solar-assisted 1993": "Paper on a solar-assisted smoke-house, Indonesia, 1993",
        "Two solar systems": "Study of a greenhouse and a tunnel solar dryer for sheets, abstract",
        "Thai hot-air paper": "Paper on hot-air drying of air-dried sheet at 40-70 C, Thailand, abstract",
        "PTPN VII": "Practice of PTPN VII, Indonesia (student reports)",
        "Thai sheet grades": "Thai raw-sheet grades, grade 1",
        "Suchat 2014": "Suchat et al., Agricultural Science Journal (Thai) 45(3/1 suppl.):457-460, 2014",
        "Abdulatip 2022": "Abdulatip & Boje, The Philippine Statistician 71(2), 2022",
        "KAU": "Kerala Agricultural University, crop page on rubber",
        "UG notes": "Undergraduate notes on rubber processing, India",
        "Khalid 1982": "Khalid, Pertanika 5(2), 1982, microwave DRC: standard deviation below 0.7 %",
        "simulated farms": "Chosen so that the estimate keeps its word on the simulated farms of the tests",
        "no source read": "Common practice or memory; no source was read",
        "CLP": "Regulation (EC) 1272/2008 (CLP), Annex VI, index 607-001-00-0 formic acid",
        "ICSC 0485": "ILO/WHO International Chemical Safety Card 0485, formic acid, 1997",
    }
)


def _constants(rows: Iterable[tuple[str, float, str, str, Status]]) -> Mapping[str, Constant]:
    return MappingProxyType({row[0]: Constant(*row) for row in rows})


REFERENCE: Mapping[str, Constant] = _constants(
    [
        # Latex: density and dry rubber content
        ("serum_density", 1.022, "kg/L at 29 C", "Smith 1940", PUBLISHED),
        ("rubber_density", 0.910, "kg/L at 29 C", "Smith 1940", PUBLISHED),
        ("water_density", 0.996, "kg/L at 29 C", "IAPWS-95", DERIVED),
        ("drc_usual", 33.0, "% m/m", "a litre gives a third of a kilo", PRACTICE),
        ("drc_usual_low", 20.0, "% m/m", "Ready-reckoner paper", PUBLISHED),
        ("drc_usual_high", 45.0, "% m/m", "Ready-reckoner paper", PUBLISHED),
        ("drc_spread", 3.9, "points, one standard deviation", "UiTM AGR182, 30-40 % as the 80 % range", DERIVED),
        ("drc_reading_spread", 1.8, "points, one standard deviation", "Ready-reckoner paper, chart at 29 C", DERIVED),
        ("drc_accepted_low", 10.0, "% m/m", "Ready-reckoner paper, with a margin", DERIVED),
        ("drc_accepted_high", 60.0, "% m/m", "Ready-reckoner paper, with a margin", DERIVED),
        ("solids_above_drc_field", 3.0, "points", "no source read", MEMORY),
        ("solids_above_drc_low", 2.0, "points, the most allowed in concentrate", "ASTM D1076-02", PUBLISHED),
        ("solids_above_drc_high", 5.4, "points, solids 41.4 less hydrocarbon 36.0", "Hwee", DERIVED),
        # Hydrometer
        ("hydrometer_temperature", 29.0, "C, calibration", "Ready-reckoner paper", PUBLISHED),
        ("hydrometer_latex_drc", 35.0, "% m/m, the latex its scale assumes", "Smith 1947", PUBLISHED),
        ("hydrometer_bias", 3.0, "% of the rubber weight per DRC point", "Smith 1947", PUBLISHED),
        ("hydrometer_per_degree", 1.0, "DRC points per C at 1 latex : 2 water", "Smith 1947", PUBLISHED),
        ("hydrometer_per_degree_fluid_low", 0.3, "DRC points per C in the fluid read", "Smith 1947", PUBLISHED),
        ("hydrometer_per_degree_fluid_high", 0.7, "DRC points per C in the fluid read", "Smith 1947", PUBLISHED),
        ("hydrometer_error_low", -7.56, "% of the value, corrected chart", "Ready-reckoner paper", PUBLISHED),
        ("hydrometer_error_high", 5.31, "% of the value, corrected chart", "Ready-reckoner paper", PUBLISHED),
        ("hydrometer_uncorrected_low", -12.69, "% of the value, chart at 29 C", "Ready-reckoner paper", PUBLISHED),
        ("hydrometer_uncorrected_high", 9.25, "% of the value, chart at 29 C", "Ready-reckoner paper", PUBLISHED),
        ("hydrometer_bias_doubt", 2.0, "% of the weight per point: 5 less 3", "Smith 1947; Smith 1940", DERIVED),
        # Dilution and acid
        ("target_drc", 15.0, "% m/m", "USU trial", PUBLISHED),
        ("target_drc_low", 12.0, "% m/m", "UG notes", PUBLISHED),
        ("target_drc_high", 20.0, "% m/m", "Tripura grower, equal water at 40 %", DERIVED),
        ("formic_molar_mass", 46.03, "g/mol", "IUPAC", PUBLISHED),
        ("acetic_molar_mass", 60.05, "g/mol", "IUPAC", PUBLISHED),
        ("ammonia_molar_mass", 17.03, "g/mol", "IUPAC", PUBLISHED),
        ("formic_per_kg", 4.5, "g pure per kg dry rubber, next day", "Morgan 1922, pp. 78, 113, by moles", DERIVED),
        ("acetic_per_kg", 5.8, "g pure per kg dry rubber, next day", "Morgan 1922, pp. 78, 113", DERIVED),
        ("same_day_factor", 1.25, "times the next-day acid", "Morgan 1922, p. 114", DERIVED),
        ("quick_factor", 1.5, "times the next-day acid", "Morgan 1922, p. 114", DERIVED),
        ("acid_per_kg_low", 2.5, "g pure per kg dry rubber", "Morgan 1922, p. 113, with a margin", DERIVED),
        ("acid_per_kg_high", 15.0, "g pure per kg dry rubber", "Indonesian slides", DERIVED),
        ("working_solution", 2.0, "% w/v", "Songkhla cooperative", PUBLISHED),
        ("working_solution_high", 5.0, "% w/v, more sets in lumps", "Morgan 1922, pp. 75, 78", PUBLISHED),
        ("ammonia_accepted_high", 8.0, "g NH3 per litre, above preserved concentrate", "US patent 4455265", DERIVED),
        ("litres_accepted_high", 2000.0, "L, above an estate tank of 1359 L", "Morgan 1922, p. 90", DERIVED),
        ("sheet_dry_kg", 0.5, "kg", "Tripura grower", PUBLISHED),
        # Hours from acid to rolling
        ("next_day_hours_low", 12.0, "h", "USU trial", PUBLISHED),
        ("next_day_hours_high", 24.0, "h", "Tripura grower", PUBLISHED),
        ("same_day_hours_low", 3.0, "h", "Morgan 1922, p. 103", PUBLISHED),
        ("same_day_hours_high", 4.0, "h", "Songkhla cooperative", PUBLISHED),
        ("quick_hours_low", 0.5, "h", "Thai DSS", PUBLISHED),
        ("quick_hours_high", 0.75, "h", "Thai DSS", PUBLISHED),
        # Sheets
        ("sheet_mm_low", 2.8, "mm, mean", "Thai sheet grades", PUBLISHED),
        ("sheet_mm_high", 4.0, "mm, mean", "Songkhla cooperative", PUBLISHED),
        ("smooth_passes_low", 2.0, "passes", "Morgan 1922, pp. 102-105", PUBLISHED),
        ("smooth_passes_high", 3.0, "passes", "Tripura grower", PUBLISHED),
        ("pattern_passes", 1.0, "pass", "Morgan 1922, pp. 102-105", PUBLISHED),
        ("dry_moisture", 0.5, "% w.b. of a dry sheet", "Solar-assisted 1993", PUBLISHED),
        ("sold_moisture", 1.5, "% w.b., the most in the best raw grade", "Thai sheet grades", PUBLISHED),
        # Drying: days from rolling to dry
        ("sun_days_low", 5.0, "d", "Tripura grower", PUBLISHED),
        ("sun_days", 6.0, "d", "Tripura grower", PUBLISHED),
        ("sun_days_high", 8.0, "d", "Hewapathirana 2011", PUBLISHED),
        ("smoke_days_low", 3.0, "d", "Tripura grower", PUBLISHED),
        ("smoke_days", 5.0, "d", "PTPN VII", PUBLISHED),
        ("smoke_days_high", 7.0, "d; 11 with thick sheets", "Morgan 1922, p. 185", PUBLISHED),
        ("solar_days_low", 4.0, "d, mixed-mode", "Songkhla cooperative", PUBLISHED),
        ("solar_days", 6.0, "d, fair weather", "Solar-assisted 1993", PUBLISHED),
        ("solar_days_high", 12.0, "d, greenhouse at 37 C", "Two solar systems", PUBLISHED),
        ("hot_air_days_low", 1.0, "d at 55-65 C", "Hewapathirana 2011", PUBLISHED),
        ("hot_air_days", 2.0, "d", "no source read", PRACTICE),
        ("hot_air_days_high", 3.0, "d", "no source read", PRACTICE),
        ("rain_day_sun", 1.0, "days lost by a wet day in the sun", "no source read", PRACTICE),
        ("rain_day_solar", 0.5, "days lost by a wet day in a solar dryer", "no source read", PRACTICE),
        ("smoke_house_celsius", 54.4, "C, the most", "Morgan 1922, p. 145", PUBLISHED),
        # Lump and scrap
        ("lump_moisture_first", 55.0, "% w.b., 1 day old", "Suchat 2014", PUBLISHED),
        ("lump_moisture_last", 17.0, "% w.b., 15 days old", "Suchat 2014", PUBLISHED),
        ("lump_moisture_error", 2.5, "points, of a fresh lump", "Suchat 2014", PUBLISHED),
        ("lump_first_day", 1.0, "d", "Suchat 2014", PUBLISHED),
        ("lump_last_day", 15.0, "d", "Suchat 2014", PUBLISHED),
        ("lump_not_rubber", 3.0, "points of the dry matter that are serum and dirt", "no source read", MEMORY),
        ("lump_share_low", 10.0, "% of the crop", "UG notes", PUBLISHED),
        ("lump_share_high", 30.0, "% of the crop", "KAU", PUBLISHED),
        ("scrap_rubber_low", 30.0, "% of bark shavings with tree scrap", "Morgan 1922, p. 123", PUBLISHED),
        ("scrap_rubber_high", 40.0, "% of bark shavings with tree scrap", "Morgan 1922, p. 123", PUBLISHED),
        # The learning estimate: DRC
        ("estimate_farm_spread", 3.0, "points, one standard deviation", "drc_spread with the next", DERIVED),
        ("estimate_block_spread", 2.5, "points, one standard deviation", "drc_spread with the last", DERIVED),
        ("estimate_farm_drift", 0.15, "points in a day", "simulated farms", DERIVED),
        ("estimate_block_drift", 0.08, "points in a day", "simulated farms", DERIVED),
        ("estimate_jump", 3.0, "points", "simulated farms", DERIVED),
        ("estimate_rain_spread", 3.0, "points, no figure published", "Morgan 1922, p. 111", PRACTICE),
        ("estimate_rain_day", 1.5, "points from one rain to the next", "simulated farms", DERIVED),
        ("estimate_stimulation_spread", 2.0, "points", "no source read", MEMORY),
        ("estimate_stimulation_days", 21.0, "days until its effect is gone", "no source read", MEMORY),
        ("estimate_instrument_spread", 2.0, "points that one hydrometer is off by", "Ready-reckoner paper", DERIVED),
        ("estimate_instrument_drift", 0.02, "points in a day", "simulated farms", DERIVED),
        ("estimate_block_day", 1.0, "points from day to day in a block", "simulated farms", DERIVED),
        ("estimate_litres_error", 0.03, "share of the litres in a bucket", "no source read", PRACTICE),
        ("estimate_weighing_error", 0.02, "share of the dry weight", "no source read", PRACTICE),
        ("estimate_hydrometer_error", 1.8, "points", "Ready-reckoner paper", DERIVED),
        ("estimate_laboratory_error", 0.7, "points", "Khalid 1982", PUBLISHED),
        # The learning estimate: wet sheets and litres
        ("sheet_moisture", 30.0, "% w.b. after milling", "Hewapathirana 2011", PUBLISHED),
        ("sheet_moisture_low", 25.0, "% w.b. after milling", "Morgan 1922, p. 185", PUBLISHED),
        ("sheet_moisture_high", 33.2, "% w.b. after milling, from 49.7 % d.b.", "Two solar systems", DERIVED),
        ("sheet_moisture_spread", 3.2, "points, one deviation", "lowest and highest as 80 % range", DERIVED),
        ("sheet_moisture_batch", 2.0, "points from one batch to the next", "simulated farms", DERIVED),
        ("sheet_moisture_drift", 0.1, "points in a day", "simulated farms", DERIVED),
        ("litres_block", 15.0, "L, a block nothing is known of", "no source read", PRACTICE),
        ("litres_block_spread", 0.8, "of the logarithm", "no source read", PRACTICE),
        ("litres_usual_spread", 0.25, "of the logarithm, usual litres known", "no source read", PRACTICE),
        ("litres_farm_spread", 0.1, "of the logarithm", "no source read", PRACTICE),
        ("litres_effect_spread", 0.3, "of the logarithm, rain and stimulation", "no source read", PRACTICE),
        ("litres_farm_drift", 0.02, "of the logarithm in a day", "simulated farms", DERIVED),
        ("litres_block_drift", 0.02, "of the logarithm in a day", "simulated farms", DERIVED),
        ("litres_block_jump", 0.4, "of the logarithm", "simulated farms", DERIVED),
        ("litres_day_spread", 0.25, "of the logarithm from day to day", "simulated farms", DERIVED),
    ]
)

TABLES: Mapping[str, Table] = MappingProxyType(
    {
        "formic_density": Table(
            "formic_density",
            (
                (1.0, 1.0006),
                (5.0, 1.0102),
                (10.0, 1.0224),
                (20.0, 1.0467),
                (40.0, 1.0935),
                (60.0, 1.1364),
                (84.0, 1.1930),
                (86.0, 1.1977),
                (100.0, 1.2196),
            ),
            "kg/L at 20 C by % m/m",
            "Engineering ToolBox (to 40 %); chemister.ru (60 % and above)",
            PUBLISHED,
        ),
        "acetic_density": Table(
            "acetic_density",
            (
                (1.0, 0.9996),
                (5.0, 1.0052),
                (10.0, 1.0121),
                (20.0, 1.0250),
                (30.0, 1.0369),
                (40.0, 1.0474),
                (50.0, 1.0562),
                (70.0, 1.0673),
                (100.0, 1.0477),
            ),
            "kg/L at 20 C by % m/m",
            "Engineering ToolBox",
            PUBLISHED,
        ),
    }
)


def value(name: str) -> float:
    """The value of a constant; its unit stands in `REFERENCE[name].unit`.

    Raises KeyError for a name that is not in the registry.
    """
    return REFERENCE[name].value


def source(*names: str) -> tuple[str, ...]:
    """The sources of the constants named, each once, in that order."""
    return tuple(dict.fromkeys(REFERENCE[name].source for name in names))


def citation(short: str) -> str:
    """The full citation of a short source name; details after a comma ("Smith 1940, p. 3") are kept."""
    name, _, details = short.partition(",")
    full = SOURCES.get(name, name)
    return f"{full},{details}" if details else full


def read_off(table: Table, at: float) -> float:
    """The table's value at `at`, on a straight line between the two nearest rows.

    Raises ValueError outside the table: nothing is extrapolated.
    """
    for (left, low), (right, high) in zip(table.rows, table.rows[1:], strict=False):
        if left <= at <= right:
            return low + (high - low) * (at - left) / (right - left)
    raise ValueError(f"{at:g} lies outside {table.name} ({table.rows[0][0]:g} to {table.rows[-1][0]:g})")


def _version() -> str:
    figures = [(each.name, each.value) for each in REFERENCE.values()]
    rows = [(each.name, each.rows) for each in TABLES.values()]
    return hashlib.sha256(repr((sorted(figures), sorted(rows))).encode()).hexdigest()[:10]


REFERENCE_VERSION: str = _version()
