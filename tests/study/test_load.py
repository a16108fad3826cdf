"""A study as it comes out of loading: the same from every way of writing it."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import random
import re
import shutil
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_args, get_type_hints

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.errors import StudyError
from optimise.machine.limits import LIMITS
from optimise.machine.parts import CATEGORIES, Part
from optimise.machine.quantities import Quantity, quantities
from optimise.machine.results import result_named
from optimise.machine.setting import LimitChange, Money, Setting, UserLimit
from optimise.machine.sheet import sheet_of
from optimise.physics.oil import viscosity_index
from optimise.search.front import OBJECTIVES, find_front
from optimise.study.load import load_study
from optimise.study.model import MEASURED, Measurement, Study
from optimise.study.space import owned_machine, space_of
from optimise.study.starter import STARTER_FILES, write_starter
from optimise.units import KINDS, System, convert, parse, unit_of
from tests.study.starter import rewrite, starter_text, write_changed

INCH, FOOT, POUND_FORCE = 0.0254, 0.3048, 4.4482216152605
POUND = 0.45359237


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_changed(tmp_path_factory.mktemp("starter") / "s", [])


@pytest.fixture(scope="module")
def starter(folder: Path) -> Study:
    return load_study(folder)


def test_what_the_starter_says(starter: Study, folder: Path) -> None:
    assert (starter.name, starter.system, starter.currency) == ("starter", "us", "USD")
    assert (starter.price_date, starter.folder) == ("2026-10-01", folder)
    setting = starter.setting
    assert setting.frame.stroke == pytest.approx(24 * INCH, rel=1e-15)
    assert setting.frame.column == "stepped"
    assert setting.frame.fill_share == 0.8
    assert setting.lines.return_line.length == pytest.approx(4 * FOOT, rel=1e-15)
    assert setting.surroundings.rated_oil_temperature == pytest.approx(323.15, abs=1e-9)
    assert [log.name for log in setting.wood] == ["straight ash", "knotty elm"]
    assert setting.wood[1].peak_force == pytest.approx(19000 * POUND_FORCE, rel=1e-14)
    assert setting.limit_changes == {
        "return_velocity": LimitChange(bound=pytest.approx(18 * FOOT), kind=None)
    }
    assert setting.user_limits == (
        UserLimit(
            name="budget",
            result="cost.outlay",
            at_most=1500.0,
            advice="Leave out the part that costs most for the time it saves.",
        ),
    )
    assert starter.measurements == (
        Measurement(
            kind="extend_time", value=5.2, uncertainty=0.1, repeats=5, note="no log, oil warm"
        ),
    )
    assert starter.money == Money(
        labour_rate=45.0,
        fuel_price=pytest.approx(3.60 / 3.785411784e-3, rel=1e-15),
        fuel_density=pytest.approx(46.5 * POUND / FOOT**3, rel=1e-15),
        margin=0.3,
        hourly_worth=25.0,
    )
    assert list(starter.lists) == list(CATEGORIES)
    assert starter.fitted == starter.owned
    assert starter.overrides == {}


def test_defaults_are_those_of_the_dataclasses(starter: Study) -> None:
    assert starter.setting.frame.drive_ratio == 1.0
    assert starter.setting.constants == type(starter.setting.constants)()
    pump: Any = starter.lists["pump"].parts
    assert pump.min_inlet_pressure[0] == 0.8e5
    assert pump.min_inlet_pressure[1] == pytest.approx(0.75e5)


def test_grade_gives_the_oil_of_that_grade_and_index(starter: Study) -> None:
    oil = starter.setting.oil
    assert oil.viscosity_40 == pytest.approx(46e-6, rel=1e-12)
    assert viscosity_index(oil.viscosity_40, oil.viscosity_100) == pytest.approx(100, abs=1e-6)


def test_outlay_is_price_and_hours_less_the_old_part(starter: Study) -> None:
    """Engine of 980 and 2 h at 45 an hour, 300 for the old one: 770."""
    engine = starter.lists["engine"]
    by_name = dict(zip(engine.names, engine.parts.outlay, strict=True))
    assert by_name == {
        "6.5 kW engine": pytest.approx(420 + 1.5 * 45 - 300),
        "9 kW engine": 0.0,
        "12 kW engine": pytest.approx(770.0),
    }


def test_columns_have_one_entry_for_each_part(starter: Study) -> None:
    for category, prices in starter.lists.items():
        assert isinstance(prices.parts, CATEGORIES[category])
        for field in dataclasses.fields(prices.parts):
            column = getattr(prices.parts, field.name)
            assert column.shape == (len(prices.names),)
            assert column.dtype == np.float64


def test_toml_file_and_folder_are_the_same_study(folder: Path, starter: Study) -> None:
    assert load_study(folder / "study.toml").fingerprint == starter.fingerprint
    assert load_study(str(folder)).fingerprint == starter.fingerprint


@pytest.mark.parametrize(
    "change",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: "\ufeff" + text.replace("\n", "\r\n"),
        lambda text: text.rstrip("\n"),
    ],
    ids=["byte order mark", "CRLF", "both", "no last line end"],
)
def test_marks_and_line_ends_change_nothing(
    change: Callable[[str], str], tmp_path: Path, starter: Study
) -> None:
    folder = tmp_path / "s"
    folder.mkdir()
    for file in STARTER_FILES:
        (folder / file).write_bytes(change(starter_text(file)).encode())
    assert load_study(folder).fingerprint == starter.fingerprint


def test_blank_rows_spare_commas_and_order_of_columns_change_nothing(
    tmp_path: Path, starter: Study
) -> None:
    def shuffled(file: str, text: str) -> str:
        if file == "study.toml":
            return text
        rows = list(csv.reader(io.StringIO(text)))
        order = list(range(len(rows[0])))
        random.Random(file).shuffle(order)
        out = io.StringIO()
        for row in rows:
            csv.writer(out).writerow([f" {row[index]} " for index in order] + ["", ""])
            csv.writer(out).writerow([""] * len(row))
        return out.getvalue()

    rewrite(tmp_path / "s", shuffled)
    assert load_study(tmp_path / "s").fingerprint == starter.fingerprint


def test_date_may_stand_without_quotation_marks(tmp_path: Path, starter: Study) -> None:
    folder = write_changed(tmp_path / "s", [("study.toml", '"2026-10-01"', "2026-10-01")])
    assert load_study(folder).price_date == starter.price_date


# --- the same in the other system of units ------------------------------------------------------


def converted(text: str | float, kind: str, system: System) -> str:
    """Quantity in the unit in which ``system`` shows it, to the last digit."""
    number = convert(parse(str(text), kind), kind, system)
    return f"{number!r} {unit_of(kind, system)}".strip()


def convert_table(table: dict[str, Any], owner: type[Any], system: System) -> None:
    """Convert every quantity of a table, found by the metadata of its dataclass."""
    specs = quantities(owner)
    hints = get_type_hints(owner)
    for key, value in table.items():
        if key in specs:
            table[key] = converted(value, specs[key].kind, system)
        elif dataclasses.is_dataclass(hints.get(key)):
            convert_table(value, hints[key], system)


def convert_study(document: dict[str, Any], system: System) -> None:
    hints = get_type_hints(Setting)
    for name, hint in {**hints, "money": Money}.items():
        if name not in document:
            continue
        if dataclasses.is_dataclass(hint):
            convert_table(document[name], hint, system)
        elif name == "wood":
            for log in document[name]:
                convert_table(log, get_args(hint)[0], system)
    units = {limit.name: limit.unit for limit in LIMITS}
    for name, change in document["limits"].items():
        change["bound"] = converted(change["bound"], units[name], system)
    for limit in document["user_limits"]:
        unit = result_named(limit["result"]).unit
        limit["at_most"] = converted(limit["at_most"], unit, system)
    for entry in document["measurements"]:
        kind = MEASURED[entry["kind"]]
        entry["value"] = converted(entry["value"], kind, system)
        entry["uncertainty"] = converted(entry["uncertainty"], kind, system)


def toml_of(value: Any) -> str:
    """Inline TOML of a value."""
    if isinstance(value, dict):
        pairs = (f"{json.dumps(key)} = {toml_of(item)}" for key, item in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml_of, value)) + "]"
    return json.dumps(value)


def in_system(system: System) -> Callable[[str, str], str]:
    def change(file: str, text: str) -> str:
        if file == "study.toml":
            document = tomllib.loads(text)
            convert_study(document, system)
            document["units"] = system
            return "\n".join(f"{key} = {toml_of(item)}" for key, item in document.items())
        specs = quantities(CATEGORIES[file.removesuffix(".csv")])
        rows = list(csv.DictReader(io.StringIO(text)))
        out = io.StringIO()
        writer = csv.DictWriter(out, list(rows[0]))
        writer.writeheader()
        for row in rows:
            writer.writerow(
                {
                    key: converted(cell, specs[key].kind, system) if key in specs and cell else cell
                    for key, cell in row.items()
                }
            )
        return out.getvalue()

    return change


def numbers_in(tree: Any, way: str = "") -> Iterator[tuple[str, float]]:
    """Every number of nested dataclasses, tuples, dicts and columns, with its way."""
    if dataclasses.is_dataclass(tree):
        tree = {field.name: getattr(tree, field.name) for field in dataclasses.fields(tree)}
    if isinstance(tree, dict):
        for key, item in tree.items():
            yield from numbers_in(item, f"{way}.{key}")
    elif isinstance(tree, (tuple, np.ndarray)):
        for index, item in enumerate(tree):
            yield from numbers_in(item, f"{way}.{index}")
    elif isinstance(tree, (int, float)):
        yield way, float(tree)


@pytest.mark.parametrize("system", ["us", "metric"])
def test_units_do_not_change_the_study(system: System, tmp_path: Path, starter: Study) -> None:
    rewrite(tmp_path / "s", in_system(system))
    other = load_study(tmp_path / "s")
    assert other.system == system
    for read in (lambda s: s.setting, lambda s: s.lists, lambda s: (s.measurements, s.money)):
        here, there = dict(numbers_in(read(starter))), dict(numbers_in(read(other)))
        assert here.keys() == there.keys()
        for way, number in here.items():
            assert there[way] == pytest.approx(number, rel=1e-12, abs=1e-12), way


@pytest.mark.parametrize("system", ["us", "metric"])
def test_units_do_not_change_the_answers(system: System, tmp_path: Path, starter: Study) -> None:
    rewrite(tmp_path / "s", in_system(system))
    other = load_study(tmp_path / "s")
    here, there = (sheet_of(owned_machine(study), study.setting) for study in (starter, other))
    for key, value in here.results.items():
        assert float(there.results[key]) == pytest.approx(float(value), rel=1e-9), key
    for one, two in zip(here.limits, there.limits, strict=True):
        assert float(two.margin) == pytest.approx(float(one.margin), rel=1e-9, abs=1e-9)
    fronts = [find_front(space_of(study), study.setting) for study in (starter, other)]
    assert np.array_equal(fronts[0].indices, fronts[1].indices)
    for key in OBJECTIVES:
        one, two = (front.sheet.results[key] for front in fronts)
        assert two == pytest.approx(one, rel=1e-9)


def test_the_rewriting_reaches_every_quantity() -> None:
    """Guard of the test above: no quantity of the rewritten study is left in the other system."""
    written = re.compile(r"""(?:^|["',])-?[0-9.e+-]+ ([^"',\n]+)""", re.MULTILINE)
    for system, other in (("metric", "us"), ("us", "metric")):
        ours = {unit_of(kind, system) for kind in KINDS}
        theirs = {unit_of(kind, other) for kind in KINDS} - ours
        found = {
            unit
            for file in STARTER_FILES
            for unit in written.findall(in_system(system)(file, starter_text(file)))
        }
        assert len(found & ours) > 10
        assert not found & theirs


# --- changes for one call -----------------------------------------------------------------------


def test_a_part_is_put_on_and_what_is_owned_stays(folder: Path, starter: Study) -> None:
    study = load_study(folder, ["rod=2-1/2 in rod", "pump = two-stage 22 gpm"])
    assert study.owned == starter.owned
    assert study.fitted == {
        **starter.owned,
        "rod": "2-1/2 in rod",
        "pump": "two-stage 22 gpm",
    }
    assert study.fingerprint != starter.fingerprint


def test_a_field_of_the_part_on_the_machine_is_changed(folder: Path) -> None:
    study = load_study(folder, ["pump.shift_pressure=40 bar", "rod.diameter=2-1/4 in"])
    assert study.overrides == {
        "pump": {"shift_pressure": 40e5},
        "rod": {"diameter": pytest.approx(2.25 * INCH)},
    }


def bound_of(study: Study, name: str) -> float | None:
    return study.setting.limit_changes.get(name, LimitChange()).bound


def kind_of(study: Study, name: str) -> str | None:
    return study.setting.limit_changes.get(name, LimitChange()).kind


@pytest.mark.parametrize(
    ("text", "read", "value"),
    [
        ("surroundings.altitude=1500 m", lambda s: s.setting.surroundings.altitude, 1500.0),
        ("lines.return_line.length=4 m", lambda s: s.setting.lines.return_line.length, 4.0),
        ("limits.rod_buckling.bound=3", lambda s: bound_of(s, "rod_buckling"), 3.0),
        ("limits.stall.kind=advisory", lambda s: kind_of(s, "stall"), "advisory"),
        ("wood.2.share=0.9", lambda s: s.setting.wood[1].share, 0.9),
        ("constants.loss_factor=1.2", lambda s: s.setting.constants.loss_factor, 1.2),
        ("measurements.1.repeats=7", lambda s: s.measurements[0].repeats, 7),
        ("user_limits.1.at_most=900", lambda s: s.setting.user_limits[0].at_most, 900.0),
        ("oil.grade=32", lambda s: round(s.setting.oil.viscosity_40 * 1e6), 32),
        ("money.margin=10 %", lambda s: s.money.margin, 0.1),
        ("units=metric", lambda s: s.system, "metric"),
        ("owned.rod=3 in rod", lambda s: s.owned["rod"], "3 in rod"),
        ('space.keep=["engine"]', lambda s: s.allowed["engine"], ("9 kW engine",)),
        ("notes=a = b", lambda s: s.notes, "a = b"),
    ],
)
def test_a_value_of_the_study_is_changed(
    text: str, read: Callable[[Study], Any], value: Any, folder: Path, starter: Study
) -> None:
    assert read(starter) != value
    assert read(load_study(folder, [text])) == value


def test_the_last_change_holds(folder: Path) -> None:
    study = load_study(folder, ["rod=3 in rod", "oil.grade=32", "oil.grade=68", "rod=2 in rod"])
    assert study.fitted["rod"] == "2 in rod"
    assert study.setting.oil.viscosity_40 == pytest.approx(68e-6)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("rod", "category=part, category.field=quantity or section.key=value"),
        ("=3", "category=part"),
        ("rod.=3 in", "category=part"),
        ("rodd=3 in rod", 'did you mean "rod"?'),
        ("rod=3 in rodd", 'did you mean "3 in rod"?'),
        ("rod=", "a name of rod.csv"),
        ("rod.diametre=3 in", 'did you mean "diameter"?'),
        ("rod.diameter=3", "the unit is missing"),
        ("rod.diameter=-3 in", "a length, more than 0"),
        ("rod.diameter=nan in", "finite"),
        ("rod.diameter=4 in", "a rod smaller than the bore of 4 in"),
        ("bore.diameter=2 in", "a rod smaller than the bore of 2 in"),
        ("engine.rated_torque=30 lb ft", "less than peak_torque"),
        ("rod.price=-3", "at least 0"),
        ("rod.outlay=3", "a field of rod"),
        ("surroundings.altitude=1500", "the unit is missing"),
        ("surroundings.altitud=1500 m", 'did you mean "altitude"?'),
        ("surrounding.altitude=1500 m", 'did you mean "surroundings"?'),
        ("surroundings=3", "a table [surroundings]"),
        ("frame.stroke.x=3 in", "a table to change a key of"),
        ("frame.stroke=60 in", "less than extended_length"),
        ("wood.3.share=1", "a position from 1 to 2"),
        ("wood.0.share=1", "a position from 1 to 2"),
        ("wood.x.share=1", "a position from 1 to 2"),
        ("limits.rod_bukling.bound=3", 'did you mean "rod_buckling"?'),
        ("limits.rod_buckling.bound=3 in", "a plain number"),
        ("owned.rod=9 in rod", "a name of rod.csv"),
        ("owned.rod=", "the Rod on the machine today"),
        ("units=imperial", '"us", "metric"'),
        ("space.keep=[", "TOML"),
        ("space.keep=" + "[" * 5000, "at most 20 levels"),
        ("space.keep=engine", "a list"),
        ("oil.viscosity_40=46 cSt", "either a grade"),
        ("notes=" + "x" * 20_000, "at most 10000 characters"),
    ],
)
def test_faults_in_changes_are_told_with_the_change(text: str, told: str, folder: Path) -> None:
    with pytest.raises(StudyError) as caught:
        load_study(folder, [text])
    (fault,) = caught.value.faults
    assert (fault.path, fault.place) == ("", f"--set {text}")
    assert told in str(fault)


def test_faults_of_files_and_changes_come_together(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [("study.toml", 'stroke = "24 in"', "stroke = 24")])
    with pytest.raises(StudyError) as caught:
        load_study(folder, ["rod=x", "frame.moving_mass=3", "rod.diameter=3"])
    assert len(caught.value.faults) == 4


def test_a_change_mends_the_value_that_it_replaces(tmp_path: Path) -> None:
    folder = write_changed(tmp_path / "s", [("study.toml", 'stroke = "24 in"', "stroke = 24")])
    assert load_study(folder, ["frame.stroke=24 in"]).setting.frame.stroke == 0.6096


# --- fingerprint --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("bore.csv", "390,", "391,"),
        ("bore.csv", "5 in tube,", "5 inch tube,"),
        ("bore.csv", "310,2 h", "310,2.1 h"),
        ("study.toml", "labour_rate = 45", "labour_rate = 46"),
        ("study.toml", 'stroke = "24 in"', 'stroke = "24.0001 in"'),
        ("study.toml", "at_most = 1500", "at_most = 1501"),
        ("study.toml", 'keep = ["valve"]', "keep = []"),
        ("study.toml", "2026-10-01", "2026-10-02"),
        ("study.toml", 'value = "5.2 s"', 'value = "5.3 s"'),
        ("study.toml", 'rod = "2 in rod"', 'rod = "3 in rod"'),
    ],
)
def test_fingerprint_changes_with_what_answers_depend_on(
    file: str, old: str, new: str, tmp_path: Path, starter: Study
) -> None:
    changed = load_study(write_changed(tmp_path / "s", [(file, old, new)]))
    assert changed.fingerprint != starter.fingerprint


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Invented starter machine", "Another title"),
        ('units = "us" ', 'units = "metric" '),
        ("# Beam, wedge and mounting.", "# Frame"),
        ('stroke = "24 in"', 'stroke = "2 ft"'),
    ],
)
def test_fingerprint_stays_with_words_and_ways_of_writing(
    old: str, new: str, tmp_path: Path, starter: Study
) -> None:
    changed = load_study(write_changed(tmp_path / "s", [("study.toml", old, new)]))
    assert changed.fingerprint == starter.fingerprint


# --- anything at all ----------------------------------------------------------------------------

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(["24 in", "0 in", "-3 psi", "35 %", "1e999 in", "none", "hard", "us"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=6,
)


def toml_value(value: Any) -> str:
    if value is None:
        return "1979-05-27T07:32:00Z"
    if isinstance(value, dict):
        pairs = (f"{toml_text(key)} = {toml_value(item)}" for key, item in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    if isinstance(value, str):
        return toml_text(value)
    return str(value).lower()


def toml_text(text: str) -> str:
    return json.dumps(text.encode("utf-8", "replace").decode(), ensure_ascii=False).replace(
        "\x7f", "\\u007f"
    )


@pytest.fixture(scope="module")
def worn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Starter in which one file at a time is exchanged and put back."""
    folder = tmp_path_factory.mktemp("worn") / "s"
    write_starter(folder)
    return folder


def outcome(folder: Path, file: str, data: bytes) -> Study | StudyError:
    path = folder / file
    whole = path.read_bytes()
    try:
        path.write_bytes(data)
        return load_study(folder)
    except StudyError as error:
        assert error.faults
        assert str(error)
        return error
    finally:
        path.write_bytes(whole)


@given(data=st.binary(max_size=200), file=st.sampled_from(STARTER_FILES), keep=st.booleans())
@settings(max_examples=60, deadline=None)
def test_random_bytes_give_faults_and_nothing_else(
    worn: Path, data: bytes, file: str, keep: bool
) -> None:
    outcome(worn, file, (starter_text(file).encode() + b"\n" if keep else b"") + data)


def spots_in(data: Any, way: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        yield (*way, key)
        if isinstance(value, (dict, list)):
            yield from spots_in(value, (*way, key))


SPOTS = list(spots_in(tomllib.loads(starter_text("study.toml"))))


@given(spot=st.sampled_from(SPOTS), value=VALUES, beside=st.booleans())
@settings(max_examples=250, deadline=None)
def test_random_values_give_faults_and_nothing_else(
    worn: Path, spot: tuple[str | int, ...], value: Any, beside: bool
) -> None:
    """In place of any value of the starter, or under a new key beside it."""
    document = tomllib.loads(starter_text("study.toml"))
    table: Any = document
    for step in spot[:-1]:
        table = table[step]
    table["x" if beside and isinstance(table, dict) else spot[-1]] = value
    text = "\n".join(f"{toml_text(name)} = {toml_value(item)}" for name, item in document.items())
    assert list(tomllib.loads(text)) == list(document)
    answer = outcome(worn, "study.toml", text.encode())
    if isinstance(answer, StudyError):
        assert "something else" not in str(answer)


@given(
    category=st.sampled_from(list(CATEGORIES)),
    spot=st.tuples(st.integers(0, 5), st.integers(0, 12)),
    cell=st.text(max_size=12) | st.sampled_from(["1e999 in", "0", "-1", "nan", "none", "2 in"]),
)
@settings(max_examples=100, deadline=None)
def test_random_cells_give_faults_and_nothing_else(
    worn: Path, category: str, spot: tuple[int, int], cell: str
) -> None:
    file = f"{category}.csv"
    rows = list(csv.reader(io.StringIO(starter_text(file))))
    row = rows[spot[0] % len(rows)]
    row[spot[1] % len(row)] = cell.encode("utf-8", "replace").decode()
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    outcome(worn, file, out.getvalue().encode())


@given(text=st.text(max_size=30) | st.builds("{}={}".format, st.sampled_from(
    ["rod", "rod.diameter", "frame.stroke", "wood.1.share", "limits.stall", "space.keep", "units"]
), st.text(max_size=12)))  # fmt: skip
@settings(max_examples=100, deadline=None)
def test_random_changes_give_faults_and_nothing_else(folder: Path, text: str) -> None:
    try:
        load_study(folder, [text])
    except StudyError as error:
        assert error.faults


def test_metadata_covers_what_the_loader_needs() -> None:
    """Every quantity of a part or of the setting has a kind that can be written and a range."""
    owners: list[type[Any]] = [*CATEGORIES.values(), Money, Part]
    owners += [hint for hint in get_type_hints(Setting).values() if dataclasses.is_dataclass(hint)]
    specs = [spec for owner in owners for spec in quantities(owner).values()]
    assert len(specs) > 80
    for spec in specs:
        assert isinstance(spec, Quantity)
        assert spec.kind in KINDS
        assert spec.lowest < spec.highest


def test_loading_leaves_the_folder_as_it_was(folder: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    before = {path.name: path.read_bytes() for path in copy.iterdir()}
    load_study(copy, ["rod=3 in rod"])
    assert {path.name: path.read_bytes() for path in copy.iterdir()} == before
