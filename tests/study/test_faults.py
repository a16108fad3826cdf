"""Every fault that a study can have: told in one sentence, at its place, all in one go."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from optimise.errors import StudyError
from optimise.study.load import load_study
from tests.study.starter import Change, faults_of, line_of, starter_text, write_changed

TOML = "study.toml"


class Case(NamedTuple):
    """One fault: how it is made, where it is told, and what is told.

    ``place`` is the beginning of the faulty line of study.toml, the place in a price list as it is
    told, or "" for the whole file.
    """

    change: Change
    place: str
    told: tuple[str, ...]


CASES = {
    # keys and tables
    "unknown top key": Case(
        (TOML, "title =", "titel ="), "titel", ('"titel"', "key of a study", '"title"')
    ),
    "unknown section": Case((TOML, "[work]", "[wrok]"), "[wrok]", ('"wrok"', '"work"')),
    "unknown key": Case(
        (TOML, "moving_mass", "moving_mas"),
        "moving_mas",
        ('"moving_mas"', "a key of frame", 'did you mean "moving_mass"?'),
    ),
    "wrong case": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "24 in"\nIdle_Drag = "3 N"'),
        "Idle_Drag",
        ('"Idle_Drag"', '"idle_drag"'),
    ),
    "missing key": Case(
        (TOML, 'stroke = "24 in"\n', ""),
        "[frame]",
        ('no "stroke"', 'the key "stroke", a length with its unit', '"24 in" or "610 mm"'),
    ),
    "missing name": Case((TOML, 'name = "starter"\n', ""), "", ('no "name"',)),
    "missing currency": Case((TOML, 'currency = "USD"\n', ""), "", ('no "currency"',)),
    "missing units": Case((TOML, 'units = "us" ', "#"), "", ('no "units"',)),
    "missing line": Case(
        (TOML, '[lines.pressure]\nlength = "4 ft"\nturns = 2\n', ""),
        "[lines.suction]",
        ("no [lines.pressure]", "the table [lines.pressure]"),
    ),
    "table that is a number": Case(
        (TOML, 'name = "starter"', 'name = "starter"\nconstants = 3'),
        "constants = 3",
        ("found 3", "a table [constants]"),
    ),
    "list that is a table": Case(
        (TOML, "[[measurements]]", "[measurements]"), "[measurements]", ("a table", "a list")
    ),
    "text that is a number": Case(
        (TOML, 'title = "Invented starter machine"', "title = 3"), "title = 3", ("found 3", "text")
    ),
    "empty name": Case(
        (TOML, 'name = "starter"', 'name = " "'), 'name = " "', ('" "', "the short name")
    ),
    "unknown unit system": Case(
        (TOML, 'units = "us" ', 'units = "imperial" '), "units", ('"imperial"', '"us", "metric"')
    ),
    "no date": Case(
        (TOML, '"2026-10-01"', '"1 October 2026"'), "price_date", ("year-month-day", "2026-10-01")
    ),
    "date that is none": Case(
        (TOML, '"2026-10-01"', '"2026-13-01"'), "price_date", ("2026-13-01",)
    ),
    "misspelt needed key": Case(
        (TOML, 'stroke = "24 in"', 'strok = "24 in"'), "strok ", ('"strok"', 'mean "stroke"?')
    ),
    "misspelt needed section": Case((TOML, "[oil]", "[oli]"), "[oli]", ('"oli"', '"oil"')),
    # quantities
    "bare number": Case(
        (TOML, 'stroke = "24 in"', "stroke = 24"),
        "stroke",
        ("found 24,", "a length with its unit", "the unit is missing", "in, ft, mm"),
    ),
    "wrong kind of unit": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "24 psi"'),
        "stroke",
        ('"psi" is a unit of a pressure', "units that fit: in, ft, mm, cm, m"),
    ),
    "unknown unit": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "24 inn"'), "stroke", ('unknown unit "inn"', '"in"')
    ),
    "true as a number": Case((TOML, "turns = 1", "turns = true"), "turns = true", ("found true",)),
    "not a number": Case(
        (TOML, "utilisation = 0.75", "utilisation = nan"), "utilisation", ("found nan", "finite")
    ),
    "infinite": Case(
        (TOML, "utilisation = 0.75", "utilisation = inf"), "utilisation", ("found inf", "finite")
    ),
    "not a number in text": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "nan in"'), "stroke", ('"nan in"', "finite")
    ),
    "too large for a number": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "1e999 in"'), "stroke", ('"1e999 in"', "too large")
    ),
    "expression": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "2**9999 in"'), "stroke", ("one number and one unit",)
    ),
    "zero size": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "0 in"'),
        "stroke",
        ('"0 in"', "a length, more than 0 and at most 393.7 in"),
    ),
    "size next to nothing": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "1e-300 in"'),
        "stroke",
        ('"1e-300 in"', "a length, at least 3.937e-11 in and at most 393.7 in"),
    ),
    "more money than there is": Case(
        ("bore.csv", "390,", "1e308,"),
        "row 5, column price",
        ('"1e308"', "at least 0 and at most 1000000000000"),
    ),
    "negative size": Case(
        (TOML, 'moving_mass = "55 lb"', 'moving_mass = "-55 lb"'),
        "moving_mass",
        ('"-55 lb"', "a mass, at least 0 lb"),
    ),
    "too large": Case(
        (TOML, 'duty = "60 %"', 'duty = "140 %"'),
        "duty",
        ('"140 %"', "at least 0 % and at most 100 %"),
    ),
    "temperature out of range": Case(
        (TOML, '"77 degF"', '"400 degF"'),
        "air_temperature",
        ('"400 degF"', "at least -58 °F and at most 140 °F"),
    ),
    "below absolute zero": Case(
        (TOML, '"77 degF"', '"-500 degF"'), "air_temperature", ("below absolute zero",)
    ),
    "decimal comma": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "24,5 in"'), "stroke", ("decimal point",)
    ),
    # words
    "unknown mounting": Case(
        (TOML, '"pinned-pinned"', '"pined-pinned"'),
        "mounting",
        ('"pined-pinned"', 'did you mean "pinned-pinned"?'),
    ),
    "unknown column": Case(
        (TOML, '"stepped"', '"steped"'), 'column = "steped"', ('"rod_only", "stepped"',)
    ),
    # between fields
    "retracted longer than extended": Case(
        (TOML, 'stroke = "24 in"', 'stroke = "60 in"'),
        "stroke",
        ("found 60 in", "less than extended_length", "58 in"),
    ),
    "stepped without barrel": Case(
        (TOML, 'barrel_length = "30 in"', "#"), "[frame]", ("barrel_length", "stepped")
    ),
    "barrel longer than all": Case(
        (TOML, '"30 in"', '"60 in"'), "barrel_length", ("60 in", "less than extended_length")
    ),
    "grade and viscosity": Case(
        (TOML, "grade = 46", 'grade = 46\nviscosity_40 = "46 cSt"'),
        "viscosity_40",
        ("grade and viscosity_40", "either a grade"),
    ),
    "no grade in ISO 3448": Case(
        (TOML, "grade = 46", "grade = 45"), "grade", ("found 45", "ISO 3448", "32, 46, 68")
    ),
    "index without grade": Case(
        (TOML, "grade = 46", 'viscosity_40 = "46 cSt"\nviscosity_100 = "6.8 cSt"'),
        "viscosity_index",
        ("viscosity_index without a grade",),
    ),
    "one viscosity": Case(
        (TOML, "grade = 46\nviscosity_index = 100", 'viscosity_40 = "46 cSt"'),
        "[oil]",
        ("no viscosity_100", "or a grade"),
    ),
    "no viscosity": Case(
        (TOML, "grade = 46\nviscosity_index = 100\n", ""),
        "[oil]",
        ("no viscosity_40 and no viscosity_100",),
    ),
    "viscosities upside down": Case(
        (
            TOML,
            "grade = 46\nviscosity_index = 100",
            'viscosity_40 = "5 cSt"\nviscosity_100 = "6 cSt"',
        ),
        "viscosity_100",
        ("6 cSt", "less than viscosity_40", "5 cSt"),
    ),
    "oil that cannot be": Case(
        (TOML, "grade = 46", "grade = 2"), "viscosity_index", ("found 100", "grade 2")
    ),
    "cold start hotter than the rating": Case(
        (TOML, '"122 degF"', '"20 degF"'),
        "cold_oil_temperature",
        ("32 °F", "less than rated_oil_temperature", "20 °F"),
    ),
    "log without force": Case(
        (
            TOML,
            '[[wood]]\nname = "knotty elm"\nshare = 0.4\npeak_force = "19000 lbf"\n',
            '[[wood]] # knotty\nname = "knotty elm"\nshare = 0.4\n',
        ),
        "[[wood]] # knotty",
        ('no "peak_force"', "a force with its unit"),
    ),
    "log named by a list": Case(
        (TOML, 'name = "knotty elm"', "name = [1, 2]"), "name = [1, 2]", ("found a list", "text")
    ),
    # parts on the machine
    "unknown part": Case(
        (TOML, '"9 kW engine"', '"9 kw engine"'),
        "engine = ",
        ('"9 kw engine"', "a name of engine.csv", 'did you mean "9 kW engine"?'),
    ),
    "no part": Case((TOML, 'cooler = "none"\n', ""), "[owned]", ('no "cooler"',)),
    "part of no category": Case(
        (TOML, 'cooler = "none"', 'cooler = "none"\nwedges = "4-way"'),
        "wedges",
        ('"wedges"', "a key of owned"),
    ),
    "rod as wide as the bore": Case(
        ("rod.csv", "2 in rod,2 in", "2 in rod,4 in"),
        "rod = ",
        ("a rod of 4 in", "smaller than the bore of 4 in"),
    ),
    # limits
    "unknown limit": Case(
        (TOML, "[limits.return_velocity]", "[limits.return_velocty]"),
        "[limits.return_velocty]",
        ('"return_velocty"', 'did you mean "return_velocity"?'),
    ),
    "bound in another unit": Case(
        (TOML, 'bound = "18 ft/s"', 'bound = "18 psi"'),
        "bound",
        ("with its unit, such as", '"psi" is a unit of a pressure'),
    ),
    "bound of nothing": Case(
        (TOML, 'bound = "18 ft/s"', 'bound = "0 ft/s"'), "bound", (", more than 0",)
    ),
    "unknown kind of limit": Case(
        (TOML, 'bound = "18 ft/s"', 'kind = "soft"'), 'kind = "soft"', ('"hard", "advisory"',)
    ),
    "limit without change": Case(
        (TOML, 'bound = "18 ft/s"\n', ""), "[limits.", ("an empty table", "a bound, a kind or both")
    ),
    "unknown result": Case(
        (TOML, '"cost.outlay"', '"cost.outly"'),
        "result",
        ('"cost.outly"', 'did you mean "cost.outlay"?'),
    ),
    "both ends": Case(
        (TOML, "at_most = 1500", "at_most = 1500\nat_least = 3"),
        "[[user_limits]]",
        ("both at_most and at_least", "exactly one"),
    ),
    "neither end": Case(
        (TOML, "at_most = 1500\n", ""), "[[user_limits]]", ("neither at_most nor at_least",)
    ),
    "limit of another kind": Case(
        (TOML, "at_most = 1500", 'at_most = "1500 psi"'), "at_most", ("an amount of money",)
    ),
    "bound at zero": Case(
        (TOML, "at_most = 1500", "at_most = 0"), "at_most", ("found 0,", "a share of the bound")
    ),
    "name of a limit taken": Case(
        (TOML, 'name = "budget"', 'name = "stall"'),
        'name = "stall"',
        ("of a limit of the machine",),
    ),
    # money and measurements
    "negative rate": Case(
        (TOML, "labour_rate = 45", "labour_rate = -45"), "labour_rate", ("found -45", "at least 0")
    ),
    "currency sign": Case(
        (TOML, "labour_rate = 45", 'labour_rate = "$45"'),
        "labour_rate",
        ("without a currency sign",),
    ),
    "margin of all": Case((TOML, '"30 %"', '"130 %"'), "margin", ('"130 %"', "at most 95 %")),
    "unknown measurement": Case(
        (TOML, '"extend_time"', '"extent_time"'),
        'kind = "extent_time"',
        ('"extent_time"', 'did you mean "extend_time"?'),
    ),
    "measurement in another unit": Case(
        (TOML, '"5.2 s"', '"5.2 in"'), 'value = "5.2 in"', ("a time with its unit",)
    ),
    "measurement of nothing": Case(
        (TOML, 'kind = "extend_time"\n', ""), "[[measurements]]", ('no "kind"', 'the key "kind"')
    ),
    "no uncertainty": Case(
        (TOML, 'uncertainty = "0.1 s"\n', ""), "[[measurements]]", ('no "uncertainty"',)
    ),
    "uncertainty of nothing": Case(
        (TOML, 'uncertainty = "0.1 s"', 'uncertainty = "0 s"'), "uncertainty", ("more than 0",)
    ),
    "half a repeat": Case(
        (TOML, "repeats = 5", "repeats = 2.5"), "repeats", ("found 2.5", "a whole number")
    ),
    # space
    "unknown category kept": Case(
        (TOML, 'keep = ["valve"]', 'keep = ["valves"]'), "keep", ('"valves"', '"valve"')
    ),
    "unknown category under only": Case(
        (TOML, "only.cooler", "only.coler"), "only", ('"coler"', 'did you mean "cooler"?')
    ),
    "unknown name allowed": Case(
        (TOML, '"small cooler"]', '"smal cooler"]'),
        "only",
        ('"smal cooler"', "a name of cooler.csv", '"small cooler"'),
    ),
    "nothing allowed": Case(
        (TOML, '["none", "small cooler"]', "[]"), "only", ("an empty list", "at least one")
    ),
    "name allowed twice": Case(
        (TOML, '["none", "small cooler"]', '["none", "none"]'), "only", ('"none" again',)
    ),
    "kept and cut": Case(
        (TOML, 'keep = ["valve"]', 'keep = ["cooler"]'), "only", ("under keep and under only",)
    ),
    # price lists
    "unknown column of a list": Case(
        ("bore.csv", "wall", "wal"),
        "row 1, column wal",
        ('"wal"', "a column of bore.csv", '"wall"'),
    ),
    "missing column": Case(
        (
            "suction_hose.csv",
            starter_text("suction_hose.csv"),
            "name,price\n1-1/4 in suction,21\n",
        ),
        "row 1, column inner_diameter",
        ('no column "inner_diameter"', "a length with its unit"),
    ),
    "column twice": Case(
        ("bore.csv", "fitting_time", "wall"), "row 1, column wall", ('"wall" again',)
    ),
    "outlay given": Case(
        ("bore.csv", "resale", "outlay"), "row 1, column outlay", ("the outlay follows from price",)
    ),
    "no name column": Case(("bore.csv", "name,", "part,"), "row 1", ('a header with "name"',)),
    "semicolons": Case(
        (
            "rod.csv",
            "name,diameter,yield_strength,price,fitting_time,resale",
            "name;diameter;price",
        ),
        "row 1",
        ("separate the columns by commas",),
    ),
    "name twice": Case(
        ("bore.csv", "4-1/2 in tube", "4 in tube"),
        "row 4, column name",
        ('"4 in tube" again', "it stands in row 3 already"),
    ),
    "no name in a row": Case(
        ("bore.csv", "4-1/2 in tube", ""), "row 4, column name", ("an empty cell", "the name")
    ),
    "short row": Case(
        ("bore.csv", "310,2 h,100", "310,2 h"), "row 4", ("7 cells", "8 cells, as in the header")
    ),
    "long row": Case(("bore.csv", "310,2 h,100", "310,2 h,100,9"), "row 4", ("9 cells",)),
    "empty cell": Case(
        ("bore.csv", "390,", ","), "row 5, column price", ("an empty cell", "an amount of money")
    ),
    "negative price": Case(
        ("bore.csv", "390,", "-390,"), "row 5, column price", ('"-390"', "at least 0")
    ),
    "price not a number": Case(
        ("bore.csv", "390,", "nan,"), "row 5, column price", ('"nan"', "finite")
    ),
    "price with thousands": Case(
        ("bore.csv", "390,", '"1,390",'), "row 5, column price", ("without thousands separators",)
    ),
    "bare number in a list": Case(
        ("bore.csv", "5 in tube,5 in", "5 in tube,5"),
        "row 5, column diameter",
        ('"5"', "the unit is missing"),
    ),
    "share over one": Case(
        ("engine.csv", "2400 rpm,0.85", "2400 rpm,1.85"),
        "row 4, column continuous_share",
        ('"1.85"', "at least 5 % and at most 100 %"),
    ),
    "rated torque over its peak": Case(
        ("engine.csv", "23.5 lb ft", "27 lb ft"),
        "row 4, column rated_torque",
        ("27 lb-ft", "less than peak_torque", "26 lb-ft"),
    ),
    "no-load speed under the rated speed": Case(
        ("engine.csv", "3800 rpm", "3500 rpm"),
        "row 4, column rated_speed",
        ("3600 rpm", "less than no_load_speed", "3500 rpm"),
    ),
    "peak torque over the rated speed": Case(
        ("engine.csv", "2400 rpm", "3700 rpm"),
        "row 4, column peak_torque_speed",
        ("3700 rpm", "less than rated_speed"),
    ),
    "detent over the relief": Case(
        ("valve.csv", "1500 psi", "2700 psi"),
        "row 4, column detent_pressure",
        ("2700 psi", "less than relief_pressure", "2600 psi"),
    ),
    "nominal flow over the highest": Case(
        ("valve.csv", "42 gpm", "33 gpm"),
        "row 4, column nominal_flow",
        ("35 gpm", "at most max_flow", "33 gpm"),
    ),
    "bypass under the clean drop": Case(
        ("filter.csv", "3 psi,25 psi", "3 psi,2 psi"),
        "row 4, column clean_drop",
        ("3 psi", "less than bypass_pressure"),
    ),
    "unloading over the shift": Case(
        ("pump.csv", "600 psi,30 psi", "600 psi,700 psi"),
        "row 3, column unload_pressure",
        ("700 psi", "less than shift_pressure", "600 psi"),
    ),
    "torn quotation": Case(
        ("bore.csv", "5 in tube,5 in", '"5 in tube,5 in'), "row 5", ("comma-separated values",)
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_each_fault_is_told_at_its_place(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    folder = write_changed(tmp_path / "s", [case.change])
    faults = faults_of(folder)
    assert len(faults) == 1, "\n".join(map(str, faults))
    (fault,) = faults
    file = case.change[0]
    if case.place.startswith("row "):
        assert fault.path == str(folder / file)
        assert fault.place == case.place
    elif not case.place:
        assert (fault.path, fault.place) == (str(folder / TOML), "")
    else:
        assert fault.path == str(folder / TOML)
        assert fault.place.startswith(f"line {line_of(folder, case.place)} (")
    for words in case.told:
        assert words in str(fault)
    assert "\n" not in str(fault)


def test_there_are_many_kinds_of_fault() -> None:
    assert len({case.told for case in CASES.values()}) >= 45


def test_all_faults_are_told_in_one_go(tmp_path: Path) -> None:
    """One fault in each section and in several lists, every one with the line it had alone."""
    names = (
        "unknown top key",
        "bare number",
        "no grade in ISO 3448",
        "temperature out of range",
        "unknown part",
        "unknown result",
        "negative rate",
        "measurement in another unit",
        "bound in another unit",
        "unknown name allowed",
        "name twice",
        "rated torque over its peak",
        "detent over the relief",
    )
    folder = write_changed(tmp_path / "s", [CASES[name].change for name in names])
    faults = faults_of(folder)
    assert len(faults) == len(names)
    for name in names:
        assert sum(all(words in str(fault) for words in CASES[name].told) for fault in faults) == 1
    lines = [int(fault.place.split()[1]) for fault in faults if fault.place.startswith("line ")]
    assert len(lines) == 10
    assert lines == sorted(lines)


def test_one_bad_field_does_not_hide_what_is_wrong_beside_it(tmp_path: Path) -> None:
    changes = [
        (TOML, 'moving_mass = "55 lb"', "moving_mass = 55"),
        (TOML, 'stroke = "24 in"', 'stroke = "60 in"'),
        ("engine.csv", "23.5 lb ft", "27 lb ft"),
        ("engine.csv", "980,2 h", "980,2"),
    ]
    told = [str(fault) for fault in faults_of(write_changed(tmp_path / "s", changes))]
    assert len(told) == 4
    assert "less than extended_length" in told[0]
    assert "found 55" in told[1]
    assert "column fitting_time" in told[2]
    assert "less than peak_torque" in told[3]


def test_ranges_are_told_in_the_system_of_the_study(tmp_path: Path) -> None:
    changes = [(TOML, 'units = "us" ', 'units = "metric" '), CASES["zero size"].change]
    (fault,) = faults_of(write_changed(tmp_path / "s", changes))
    assert "more than 0 and at most 10000 mm" in str(fault)


def test_contradictory_limits_are_named(tmp_path: Path) -> None:
    limits = """
[[user_limits]]
name = "quick"
result = "cycle.total_s"
at_most = "8 s"

[[user_limits]]
name = "calm"
result = "cycle.total_s"
at_least = "9 s"

[space]
"""
    folder = write_changed(tmp_path / "s", [(TOML, "\n[space]\n", limits)])
    (fault,) = faults_of(folder)
    assert fault.place.startswith("line ")
    assert '"quick"' in str(fault)
    assert '"calm"' in str(fault)
    text = (folder / TOML).read_text(encoding="utf-8")
    (folder / TOML).write_text(text.replace('"9 s"', '"8 s"'), encoding="utf-8")
    assert faults_of(folder) == ()


def test_shares_that_are_all_nothing(tmp_path: Path) -> None:
    changes = [(TOML, "share = 0.6\npeak", "share = 0\npeak"), (TOML, "share = 0.4", "share = 0 ")]
    folder = write_changed(tmp_path / "s", changes)
    (fault,) = faults_of(folder)
    assert "shares that are all 0" in str(fault)
    assert fault.place.endswith("(wood)")


def test_no_wood_at_all(tmp_path: Path) -> None:
    text = starter_text(TOML)
    wood = text[text.index("[[wood]]") : text.index("[money]")]
    (fault,) = faults_of(write_changed(tmp_path / "s", [(TOML, wood, "")]))
    assert "at least one table [[wood]]" in str(fault)


def test_list_of_measurements_that_holds_a_number(tmp_path: Path) -> None:
    text = starter_text(TOML)
    table = text[text.index("[[measurements]]") : text.index("# Move a bound")]
    changes = [(TOML, table, ""), (TOML, 'title = "', 'measurements = [3]\ntitle = "')]
    (fault,) = faults_of(write_changed(tmp_path / "s", changes))
    assert fault.place == "line 16 (measurements.1)"
    assert "found 3, expected a table [[measurements]]" in str(fault)


def test_two_limits_of_one_name(tmp_path: Path) -> None:
    limit = '\n[[user_limits]]\nname = "budget"\nresult = "force_N"\nat_least = "9 kN"\n'
    folder = write_changed(tmp_path / "s", [(TOML, "\n[space]\n", limit + "\n[space]\n")])
    (fault,) = faults_of(folder)
    assert "the name of limit 1 of the study" in str(fault)


# --- files --------------------------------------------------------------------------------------


def test_no_such_folder_points_at_the_nearest(tmp_path: Path) -> None:
    write_changed(tmp_path / "alder", [])
    (fault,) = faults_of(tmp_path / "aldr")
    assert str(fault) == (
        f"{tmp_path / 'aldr'}: found no such file or folder, "
        'expected a study folder or its study.toml; did you mean "alder"?'
    )


def test_folder_without_study(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path)
    assert "a folder without study.toml" in str(fault)


@pytest.mark.parametrize("path", ["no\0pe", "x" * 5000, ""])
def test_paths_that_cannot_be(path: str, tmp_path: Path) -> None:
    assert len(faults_of(tmp_path / path)) == 1


def test_missing_list_points_at_its_misspelt_name(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [])
    (folder / "engine.csv").rename(folder / "engines.csv")
    (fault,) = faults_of(folder)
    assert fault.path == str(folder / "engine.csv")
    assert "no such file" in str(fault)
    assert '"engines.csv" stands beside it' in str(fault)


@pytest.mark.parametrize("text", ["", "\n\n", ",,,\n"])
def test_empty_list(text: str, tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [])
    (folder / "tank.csv").write_text(text, encoding="utf-8")
    (fault,) = faults_of(folder)
    assert (fault.path, fault.found) == (str(folder / "tank.csv"), "no rows")


def test_header_alone(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [])
    head = (folder / "tank.csv").read_text(encoding="utf-8").splitlines()[0]
    (folder / "tank.csv").write_text(head + "\n", encoding="utf-8")
    faults = faults_of(folder)
    assert [fault.found for fault in faults] == ['"10 gal tank"', "no row under the header"]


def test_too_many_columns(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [])
    (folder / "tank.csv").write_text("name" + ",x" * 400_000 + "\n", encoding="utf-8")
    (fault,) = faults_of(folder)
    assert "400001 columns" in str(fault)


@pytest.mark.parametrize("file", ["study.toml", "pump.csv"])
def test_not_utf8_and_nul(file: str, tmp_path: Path) -> None:
    for bad, told in ((b"\xff", "not UTF-8"), (b"\0", "NUL")):
        folder = write_changed(tmp_path / told[:3], [])
        data = (folder / file).read_bytes()
        (folder / file).write_bytes(data + b"\n" + bad)
        (fault,) = faults_of(folder)
        assert fault.path == str(folder / file)
        assert fault.place.startswith(f"line {data.count(10) + 2}, byte offset {len(data) + 1}")
        assert told in str(fault)


SYNTAX = {
    "no value": ('title = "Invented starter machine"', "title =", "16:8", '"title ="'),
    "no equals sign": ('currency = "USD"', "currency", "18:9", '"currency"'),
    "open text": ('currency = "USD"', 'currency = "USD', "18:16", "'currency = \"USD'"),
    "open text at the end": (
        '["none", "small cooler"]',
        '["none", """small cooler"]\n\n',
        "178:41",
        "small cooler",
    ),
    "key twice": ('currency = "USD"', 'currency = "USD"\nname = "b"', "19:11", "set already"),
    "table twice": ("[money]", "[work]", "126:6", "stands in the file already"),
    "bare word": ('currency = "USD"', "currency = USD", "18:12", "quotation marks"),
}


@pytest.mark.parametrize("name", SYNTAX)
def test_syntax_is_told_with_line_and_column(name: str, tmp_path: Path) -> None:
    old, new, position, told = SYNTAX[name]
    folder = write_changed(tmp_path / "s", [(TOML, old, new), CASES["negative price"].change])
    syntax, price = faults_of(folder)
    assert str(syntax).startswith(f"{folder / TOML}:{position}: ")
    assert told in str(syntax)
    assert price.place == CASES["negative price"].place


MONSTERS = {
    "nested lists": "x = " + "[" * 20_000 + "]" * 20_000,
    "one list too deep": "x = " + "[" * 21 + "]" * 21,
    "one dot too many": "a" + ".a" * 21 + " = 1",
    "nested tables": "x = " + "{a=" * 20_000,
    "dotted key": "a" + ".a" * 20_000 + " = 1",
    "quoted dotted key": "a" + ' . "a"' * 20_000 + " = 1",
    "dotted header": "[a" + ".a" * 20_000 + "]",
    "long number": "x = " + "9" * 5000,
    "long fraction": "x = 1." + "9" * 5000,
    "long exponent": "x = 1e" + "9" * 5000,
    "long hexadecimal": "x = 0x" + "f" * 5000,
    "ten megabytes": "#" * 10_000_000,
}


@pytest.mark.parametrize("name", MONSTERS)
def test_monsters_are_refused_before_they_are_parsed(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_changed(tmp_path / "s", [])
    (folder / TOML).write_text("# one line\n" + MONSTERS[name], encoding="utf-8")

    def parser(text: str) -> dict[str, object]:
        raise AssertionError("the parser was started")

    monkeypatch.setattr("optimise.study.places.tomllib.loads", parser)
    with pytest.raises(StudyError) as caught:
        load_study(folder)
    (fault,) = caught.value.faults
    assert "at most" in fault.expected
    assert fault.place in ("line 2", "")


def test_brackets_dots_and_digits_inside_text_are_no_monsters(tmp_path: Path) -> None:
    text = "[" * 50 + "." * 50 + "9" * 200
    notes = f"""notes = '{text}' # {text}\ntitle = \"\"\"\n{text}\"\n\"\"\" """
    folder = write_changed(
        tmp_path / "s",
        [
            (TOML, 'notes = "Invented', f"{notes}\n# "),
            (TOML, 'title = "Invented starter machine"', ""),
        ],
    )
    assert load_study(folder).notes == text


def test_a_list_without_parts_is_named_as_that(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [])
    head = (folder / "rod.csv").read_text(encoding="utf-8").split("\n")[0]
    (folder / "rod.csv").write_text(head, encoding="utf-8")
    owned, rows = map(str, faults_of(folder))
    assert owned.endswith("expected a name of rod.csv; none is there")
    assert rows.endswith("rod.csv, row 2: found no row under the header, expected a row per part")


def test_line_ends_of_an_old_kind_get_advice(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [])
    (folder / TOML).write_bytes((folder / TOML).read_bytes().replace(b"\n", b"\r"))
    (fault,) = faults_of(folder)
    assert str(fault) == (
        f"{folder / TOML}, line 1: found a line that ends with CR alone, expected TOML; "
        "save the file with LF line ends"
    )


def test_long_quantity_is_refused(tmp_path: Path) -> None:
    change = (TOML, 'stroke = "24 in"', f'stroke = "{"2" * 5000} in"')
    (fault,) = faults_of(write_changed(tmp_path / "s", [change]))
    assert "longer than 200 characters" in str(fault)
    assert len(str(fault)) < 600


@pytest.mark.parametrize(
    "name",
    [
        "</script><img src=x onerror=alert(1)>",
        "=HYPERLINK(1)",
        "+1",
        "@x",
        "\u202eabc",
        "{found}",
        "x" * 10_000,
    ],
)
def test_names_are_plain_text(name: str, tmp_path: Path) -> None:
    changes = [("tank.csv", "10 gal tank", name), (TOML, '"10 gal tank"', f'"{name}"')]
    study = load_study(write_changed(tmp_path / "s", changes))
    assert study.owned["tank"] == name
    assert name in study.lists["tank"].names


def test_foreign_text_in_faults_is_escaped(tmp_path: Path) -> None:
    change = (TOML, '"10 gal tank"', r'"a\u001b[31m\nb {found}\u202e"')
    (fault,) = faults_of(write_changed(tmp_path / "s", [change]))
    assert str(fault).isprintable()
    assert "{found}" in str(fault)


@pytest.mark.parametrize(
    ("said", "hint"),
    [
        ("stroke=20 in", 'did you mean "frame.stroke"?'),
        ("altitude=500 m", 'did you mean "surroundings.altitude"?'),
        ("rood=2 in rod", 'did you mean "rod"?'),
        ("inner_diameter=1 in", 'it stands in "pressure_hose.inner_diameter", "return_hose.inner'),
    ],
)
def test_a_key_without_its_section_is_told_where_it_stands(
    said: str, hint: str, tmp_path: Path
) -> None:
    (fault,) = faults_of(write_changed(tmp_path / "s", []), [said])
    assert hint in str(fault)
