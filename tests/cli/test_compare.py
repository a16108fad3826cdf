"""``ramfront compare`` and kept tables through the real entry point."""

from __future__ import annotations

import csv
import json
import re
import shutil
from functools import cache
from pathlib import Path
from typing import Any

import pyarrow.parquet
import pytest

from optimise import __version__
from tests.cli.test_commands import ROOT, answer, ramfront

ALDER = "studies/alder-yard"
ROD = "rod=2.25 in rod, 75 ksi"


def compared(*words: str) -> dict[str, Any]:
    return answer("compare", *words)


def saved(path: Path, *words: str) -> Path:
    done = ramfront(*words, "--json")
    assert done.returncode == 0, done.stderr
    path.write_text(done.stdout, encoding="utf-8")
    return path


def test_two_machines_show_all_that_differs_and_nothing_else() -> None:
    found = compared(ALDER, "--with", ROD)
    plain, changed = found["machines"]
    assert found["differences"]["parts"] == ["rod"]
    assert changed["parts"]["rod"] == "2.25 in rod, 75 ksi"
    expected = {
        key
        for key, value in plain["results"].items()
        if value != pytest.approx(changed["results"][key], rel=1e-9)
    }
    assert set(found["differences"]["results"]) == expected
    assert {"cycle.retract_s", "cost.outlay"} <= expected
    assert "force_N" not in expected
    assert "rod_buckling" in found["differences"]["limits"]
    assert found["flags"] == []
    (sentence,) = found["advice"]
    assert "quicker" in sentence
    assert "dearer" in sentence
    done = ramfront("compare", ALDER, "--with", ROD)
    assert "never feel for a leak" in done.stdout
    assert sentence in " ".join(done.stdout.split())


def test_a_saved_check_says_the_same_as_the_study_itself(tmp_path: Path) -> None:
    file = saved(tmp_path / "before.json", "check", ALDER)
    found = compared(str(file), ALDER)
    assert found["differences"] == {"parts": [], "results": [], "limits": []}
    assert found["flags"] == []
    assert "These machines do not differ." in ramfront("compare", str(file), ALDER).stdout


def test_a_saved_plan_stands_beside_the_machine_as_it_is(tmp_path: Path) -> None:
    file = saved(tmp_path / "plan.json", "steps", ALDER, "--budget", "1000")
    found = compared(str(file))
    assert [one["label"] for one in found["machines"]] == ["plan, as it is", "plan, plan"]
    before, after = (one["results"]["cycle.total_s"] for one in found["machines"])
    assert after < before
    assert "plan, plan is " in found["advice"][0]
    words = ramfront("compare", str(file)).stdout
    assert "lbf" in words
    assert "bar" not in words.split("never feel")[0].split()
    paid = found["machines"][1]["results"]["cost.outlay"]
    assert f"{paid:,.0f} USD dearer than" in " ".join(words.split())


def test_an_answer_of_another_state_is_flagged_or_refused(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    file = tmp_path / "old.json"
    done = ramfront("check", "mine", "--json", cwd=tmp_path)
    file.write_text(done.stdout, encoding="utf-8")
    study = tmp_path / "mine" / "study.toml"
    text = study.read_text(encoding="utf-8")
    study.write_text(text.replace("hourly_worth = 25", "hourly_worth = 26"), encoding="utf-8")
    done = ramfront("compare", "old.json", "mine", cwd=tmp_path)
    assert done.returncode == 0
    assert "made from another state of the study starter" in " ".join(done.stdout.split())
    refused = ramfront("compare", "old.json", "mine", "--strict", cwd=tmp_path)
    assert (refused.returncode, refused.stdout) == (2, "")
    kept = json.loads(file.read_text(encoding="utf-8"))
    kept["version"] = "0.0.0"
    file.write_text(json.dumps(kept), encoding="utf-8")
    both = json.loads(ramfront("compare", "old.json", "mine", "--json", cwd=tmp_path).stdout)
    assert any("made by version 0.0.0" in flag for flag in both["flags"])


def copied(folder: Path, study: str = "alder-yard") -> Path:
    """A demonstration in a folder of its own, with few parts to search."""
    place = folder / study
    shutil.copytree(ROOT / "studies" / study, place)
    file = place / "study.toml"
    text = file.read_text(encoding="utf-8")
    keep = ("pressure_hose", "cooler", "fittings")
    assert "keep = []" in text
    file.write_text(text.replace("keep = []", f"keep = {json.dumps(keep)}"), encoding="utf-8")
    return place


def edited(place: Path) -> None:
    """The study in another state: a second is worth more."""
    file = place / "study.toml"
    text = file.read_text(encoding="utf-8")
    changed = re.sub(r"(?m)^hourly_worth = .*$", "hourly_worth = 91", text)
    assert changed != text
    file.write_text(changed, encoding="utf-8")


CALLS = {
    "check": (),
    "sweep": ("pump",),
    "steps": ("--budget", "900"),
    "lineup": ("--models", "2"),
}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, dict[str, Path]]]:
    """A study, and its answers as they may be saved: JSON, CSV and Parquet."""
    folder = tmp_path_factory.mktemp("kept")
    place = copied(folder)
    files: dict[str, dict[str, Path]] = {}
    for command, words in CALLS.items():
        out = () if command == "check" else ("--out", str(folder), "--parquet")
        done = ramfront(command, str(place), *words, *out, "--json")
        assert done.returncode == 0, done.stderr
        (folder / f"{command}.json").write_text(done.stdout, encoding="utf-8")
        endings = ("json",) if command == "check" else ("json", "csv", "parquet")
        files[command] = {ending: folder / f"{command}.{ending}" for ending in endings}
    return place, files


@pytest.mark.parametrize("command", [name for name in CALLS if name != "check"])
def test_saved_answers_stand_beside_their_study(
    kept: tuple[Path, dict[str, dict[str, Path]]], command: str
) -> None:
    """Each machine of the file is the one that its parts give now, to the digits written."""
    place, files = kept

    @cache
    def again(sets: str) -> dict[str, Any]:
        found: dict[str, Any] = compared(str(place), "--with", sets)["machines"][1]
        return found

    for ending, file in files[command].items():
        found = compared(str(place), str(file))
        assert found["flags"] == [], ending
        assert len(found["machines"]) >= 2
        plain = found["machines"][0]
        for machine in found["machines"][1:]:
            assert machine["saved"] is True
            sets = [f"{category}={name}" for category, name in machine["parts"].items()]
            anew = again(";".join(sets))
            for key, value in machine["results"].items():
                if value is None:
                    assert (command, key) == ("lineup", "cost.outlay")
                    continue
                assert value == pytest.approx(anew["results"][key], rel=2e-5, abs=1e-6), key
        if ending == "json":
            assert found["differences"]["limits"]
        assert "cycle.total_s" in found["differences"]["results"]
        assert plain["saved"] is False


def test_answers_know_where_their_study_is_and_when_it_has_changed(tmp_path: Path) -> None:
    """Stale without the study named, in every form; and said where the study is gone."""
    place = copied(tmp_path)
    done = ramfront("sweep", str(place), "rod", "--out", str(tmp_path), "--parquet", "--json")
    (tmp_path / "sweep.json").write_text(done.stdout, encoding="utf-8")
    files = [str(tmp_path / f"sweep.{ending}") for ending in ("json", "csv", "parquet")]
    with_rod = saved(tmp_path / "rod.json", "check", str(place), "--set", ROD)
    assert compared(*files, str(with_rod))["flags"] == []
    assert compared(str(with_rod), str(place))["flags"] == []
    edited(place)
    for file in [*files, str(with_rod)]:
        flag = compared(file, file)["flags"][0]
        assert "made from another state of the study alder-yard" in flag
        assert str(place) in flag
        refused = ramfront("compare", file, str(place), "--strict")
        assert (refused.returncode, refused.stdout) == (2, "")
    shutil.move(place, tmp_path / "moved")
    for file in files:
        [flag] = compared(file, file)["flags"]
        assert "is not in" in flag and "any more" in flag
    [flag] = compared(str(with_rod), str(tmp_path / "moved"))["flags"]
    assert "made from another state" in flag


def test_answers_of_two_questions_to_one_state_are_not_stale(tmp_path: Path) -> None:
    files = [
        str(saved(tmp_path / name, "check", ALDER, "--set", f"money.hourly_worth={worth}"))
        for name, worth in (("old.json", "25"), ("new.json", "26"))
    ]
    assert compared(*files)["flags"] == []
    answer_of = json.loads(Path(files[0]).read_text(encoding="utf-8"))
    del answer_of["folder"]
    Path(files[0]).write_text(json.dumps(answer_of), encoding="utf-8")
    [flag] = compared(*files)["flags"]
    assert flag.startswith("old: does not say where its study alder-yard was")


def test_one_study_twice_has_two_labels() -> None:
    found = compared(ALDER, ALDER)
    assert [one["label"] for one in found["machines"]] == ["alder-yard (1)", "alder-yard (2)"]
    (sentence,) = found["advice"]
    assert sentence == "alder-yard (2) is no quicker, stronger or dearer than alder-yard (1)."


def test_what_differs_most_stands_first_and_what_hardly_does_waits() -> None:
    """Verdict, then rows by size; those under 1 % only with --all."""
    lines = ramfront("compare", ALDER, "--with", ROD, columns=200).stdout.splitlines()
    verdict = next(nth for nth, line in enumerate(lines) if "quicker" in line)
    first = next(nth for nth, line in enumerate(lines) if line.startswith("rod "))
    assert verdict < first
    heads = [re.split(r"\s{2,}", line)[0] for line in lines]
    assert heads.index("Time per piece") < heads.index("Outlay") < heads.index("Buckling factor")
    assert heads.index("Buckling factor") < heads.index("Ram speed back")
    assert "Engine speed out" not in heads
    assert any("differ by less than 1 %: see --all" in line for line in lines)
    whole = ramfront("compare", ALDER, "--with", ROD, "--all", columns=200).stdout
    _, _, little = whole.partition("Different by less than 1 %:")
    assert "Engine speed out" in little
    assert "Time per piece" not in little


def test_two_studies_side_by_side() -> None:
    found = compared(ALDER, "studies/kvarnby")
    assert [one["study"] for one in found["machines"]] == ["alder-yard", "kvarnby"]
    assert "engine" in found["differences"]["parts"]


def test_what_cannot_be_compared_is_refused(tmp_path: Path) -> None:
    (tmp_path / "front.json").write_text('{"designs": []}', encoding="utf-8")
    (tmp_path / "text.json").write_text("nothing", encoding="utf-8")
    for words, said in (
        ((ALDER,), "two machines or more"),
        ((str(tmp_path / "front.json"), ALDER), "expected an answer of"),
        ((str(tmp_path / "text.json"), ALDER), "expected an answer of"),
        ((ALDER, "--with", "rod=none such"), "none such"),
    ):
        done = ramfront("compare", *words)
        assert (done.returncode, done.stdout) == (2, ""), words
        assert said in done.stderr
        assert "Traceback" not in done.stderr


def test_all_that_cannot_be_compared_is_named_at_once(tmp_path: Path) -> None:
    """Torn answers, what is not there, changes that cannot be: a line for each."""
    torn, table = tmp_path / "torn.json", tmp_path / "torn.csv"
    torn.write_text('{"parts": ', encoding="utf-8")
    table.write_text("rod,bore\n1\n", encoding="utf-8")
    absent = tmp_path / "nosuch.json"
    for words, starts in (
        ((str(torn), str(table), str(absent)), [f"{torn}: ", f"{table}: ", f"{absent}: "]),
        ((str(torn), str(table), "--with", "rod=x"), [f"{torn}: ", f"{table}: ", "--with changes"]),
        (
            (ALDER, str(torn), "--with", "BAD", "--with", "rod=x; bore=y", "--out", str(table)),
            [f"{table}: found a file", f"{torn}: ", '--with BAD: found "BAD"',
             "--with bore=y: ", "--with rod=x: "],
        ),
    ):  # fmt: skip
        done = ramfront("compare", *words)
        assert (done.returncode, done.stdout) == (2, ""), words
        lines = done.stderr.splitlines()
        assert len(lines) == len(starts), done.stderr
        for line, start in zip(lines, starts, strict=True):
            assert line.startswith(start), line


def test_tables_are_kept_with_what_made_them(tmp_path: Path) -> None:
    done = ramfront("compare", ALDER, "--with", ROD, "--out", str(tmp_path), "--parquet")
    assert done.returncode == 0, done.stderr
    with (tmp_path / "compare.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    table = pyarrow.parquet.read_table(tmp_path / "compare.parquet")
    assert table.num_rows == len(rows) == 2
    found = compared(ALDER, "--with", ROD)
    for row, machine in zip(rows, found["machines"], strict=True):
        assert row["Version"] == __version__
        assert row["Fingerprint"] == machine["fingerprint"]
        assert row["rod"] == machine["parts"]["rod"]
        assert row["Currency"] == "USD"
    cycles = [one["results"]["cycle.total_s"] for one in found["machines"]]
    assert table.column("Cycle [s]").to_pylist() == pytest.approx(cycles, rel=1e-5)
    margins = [one["limits"]["rod_buckling"]["margin"] for one in found["machines"]]
    assert table.column("Margin: Rod buckling").to_pylist() == pytest.approx(margins, abs=1e-4)
    texts = [name for name in table.column_names if table.schema.field(name).type == "string"]
    assert set(texts) == {
        "Machine", "rod", "Hard limits crossed", "Currency", "Study", "Fingerprint", "Version",
        "Folder", "Changes",
    }  # fmt: skip


def test_a_table_cut_between_two_rows_is_found_out(tmp_path: Path) -> None:
    done = ramfront("steps", "studies/kvarnby", "--out", str(tmp_path), "--parquet")
    assert done.returncode == 0, done.stderr
    for table in (tmp_path / "steps.csv", tmp_path / "steps.parquet"):
        assert compared(str(table), ALDER)["flags"] == []
    table = tmp_path / "steps.csv"
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    table.write_text("".join(lines[:-3]), encoding="utf-8")
    count = len(lines) - 1
    [flag] = compared(str(table), ALDER)["flags"]
    assert flag == f"steps: {count - 3} of the {count} rows it was written with"
    done = ramfront("compare", str(table), ALDER, "--strict")
    assert done.returncode != 0
    assert flag in done.stderr


def test_front_is_kept_as_parquet_with_numbers(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    done = ramfront("front", "mine", "--out", str(tmp_path), "--parquet", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    table = pyarrow.parquet.read_table(tmp_path / "front.parquet")
    with (tmp_path / "front.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert table.num_rows == len(rows)
    cycle = table.column("Cycle [s]").to_pylist()
    assert cycle == [float(row["Cycle [s]"]) for row in rows]
    assert set(table.column("Study").to_pylist()) == {"starter"}
