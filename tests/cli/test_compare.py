"""``ramfront compare`` and kept tables through the real entry point."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pyarrow.parquet
import pytest

from optimise import __version__
from tests.cli.test_commands import answer, ramfront

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


def test_saved_answers_of_two_states_are_flagged_without_the_study(tmp_path: Path) -> None:
    old, new = (
        str(saved(tmp_path / name, "check", ALDER, "--set", f"money.hourly_worth={worth}"))
        for name, worth in (("old.json", "25"), ("new.json", "26"))
    )
    [flag] = compared(old, new)["flags"]
    assert "new: made from another state of the study alder-yard than old" in flag
    refused = ramfront("compare", old, new, "--strict")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert compared(old, old)["flags"] == []


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
    }  # fmt: skip


def test_front_is_kept_as_parquet_with_numbers(tmp_path: Path) -> None:
    done = ramfront("front", "studies/kvarnby", "--out", str(tmp_path), "--parquet")
    assert done.returncode == 0, done.stderr
    table = pyarrow.parquet.read_table(tmp_path / "front.parquet")
    with (tmp_path / "front.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert table.num_rows == len(rows)
    cycle = table.column("Cycle [s]").to_pylist()
    assert cycle == [float(row["Cycle [s]"]) for row in rows]
    assert set(table.column("Study").to_pylist()) == {"kvarnby"}
