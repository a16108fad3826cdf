"""Commands through the real entry point: what they print, write and exit with."""

from __future__ import annotations

import base64
import csv
import gzip
import io
import json
import math
import os
import re
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from optimise.cli import run
from optimise.machine.limits import LIMITS
from optimise.study.starter import write_starter

ROOT = Path(__file__).parents[2]
STUDIES = ("alder-yard", "kvarnby")
NAMED_LIMITS = {limit.name for limit in LIMITS}


def as_process(*words: str) -> subprocess.CompletedProcess[str]:
    """Command as a shell starts it."""
    command = Path(sys.executable).with_name("ramfront")
    environment = {**os.environ, "COLUMNS": "120", "NO_COLOR": "1"}
    return subprocess.run(
        [str(command), *words],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def ramfront(*words: str, cwd: Path = ROOT, columns: int = 120) -> subprocess.CompletedProcess[str]:
    """Same entry point in this process, which saves its start."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["ramfront", *words])
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", err)
        patch.setenv("COLUMNS", str(columns))
        patch.setenv("NO_COLOR", "1")
        patch.chdir(cwd)
        try:
            run()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
        else:
            code = 0
    return subprocess.CompletedProcess(words, code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> str:
    """First study as ``new`` writes it: its front takes a second."""
    place = tmp_path_factory.mktemp("small") / "starter"
    assert ramfront("new", str(place)).returncode == 0
    return str(place)


def answer(*words: str) -> dict[str, Any]:
    done = ramfront(*words, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("study", STUDIES)
def test_check_holds_what_the_contract_names(study: str) -> None:
    found = answer("check", f"studies/{study}")
    for key in ("extend_s", "retract_s", "reversal_s", "total_s", "loaded_total_s"):
        assert found["cycle"][key] > 0.0
    assert found["cycle"]["total_s"] == pytest.approx(
        sum(found["cycle"][key] for key in ("extend_s", "retract_s", "reversal_s"))
    )
    assert found["force_N"] > 0.0
    assert {"extend_m3_s", "retract_m3_s", "retract_return_m3_s"} <= set(found["flow"])
    assert {"extend_pump_Pa", "retract_pump_Pa"} <= set(found["pressure"])
    assert {"speed_rpm", "high_stage_load", "low_stage_load"} <= set(found["engine"])
    assert {"rated_degC", "steady_degC"} <= set(found["oil"])
    assert found["work"]["pieces_per_h"] > 0.0
    assert found["cost"]["outlay"] == 0.0
    limits = {limit["name"]: limit for limit in found["limits"]}
    assert set(limits) >= NAMED_LIMITS
    for limit in limits.values():
        assert set(limit) >= {
            "name",
            "value",
            "bound",
            "margin",
            "unit",
            "kind",
            "ok",
            "source",
            "advice",
        }
        assert limit["ok"] == (limit["margin"] >= 0.0)
        assert limit["kind"] in ("hard", "advisory")
    assert found["feasible"] is True


def test_units_change_words_not_json() -> None:
    us, metric = (answer("check", "studies/alder-yard", "--units", u) for u in ("us", "metric"))
    assert (us.pop("units"), metric.pop("units")) == ("us", "metric")
    assert us == metric
    words = ramfront("check", "studies/alder-yard", "--units", "metric").stdout
    assert "bar" in words
    assert "kN" in words
    assert (
        "psi"
        not in words.replace(" psi,", "")
        .replace("psi, ", "")
        .split("result")[1]
        .split("measured on")[0]
    )


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("check", "studies/kvarnby", "--json"), 0),
        (("check", "studies/alder-yard", "--strict", "--set", "rod=3.5 in rod, 75 ksi"), 3),
        (("day", "studies/alder-yard", "--set", "rood=2 in"), 2),
        (("sweep", "studies/kvarnby", "rod", "--out", "x" * 300), 1),
    ],
)
def test_a_process_of_its_own_says_the_same(words: tuple[str, ...], code: int) -> None:
    alone, here = as_process(*words), ramfront(*words)
    seconds = re.compile(r"in\s+[\d.]+ s\.")
    assert (alone.returncode, seconds.sub("", alone.stdout), alone.stderr) == (
        here.returncode,
        seconds.sub("", here.stdout),
        here.stderr,
    )
    assert alone.returncode == code


def test_set_changes_one_call_only() -> None:
    before = answer("check", "studies/alder-yard")
    changed = answer("check", "studies/alder-yard", "--set", "return_hose.inner_diameter=0.25 in")
    assert changed["cycle"]["retract_s"] > before["cycle"]["retract_s"]
    assert answer("check", "studies/alder-yard") == before


def test_big_rod_on_small_return_hose_is_slow_and_says_why() -> None:
    sets = [
        "bore.diameter=5 in",
        "bore.max_pressure=3000 psi",
        "return_hose.inner_diameter=0.25 in",
    ]
    words = [word for one in sets for word in ("--set", one)]
    small = answer("check", "studies/alder-yard", *words, "--set", "rod.diameter=2 in")
    big = answer("check", "studies/alder-yard", *words, "--set", "rod.diameter=3.5 in")
    assert big["flow"]["retract_return_m3_s"] / big["flow"]["retract_m3_s"] == pytest.approx(
        1.961, abs=5e-4
    )
    assert big["stage"]["retract_high"] < 0.5 < small["stage"]["retract_high"]
    assert big["cycle"]["retract_s"] > 1.2 * small["cycle"]["retract_s"]
    said = ramfront(
        "check", "studies/alder-yard", *words, "--set", "rod.diameter=3.5 in"
    ).stdout.replace("\n", " ")
    assert "The back stroke loses time because the pump drops to its small section" in said
    assert "1.961 times the oil" in said


def test_strict_exits_with_three_when_a_hard_limit_is_crossed() -> None:
    fine = ramfront("check", "studies/alder-yard", "--strict")
    assert fine.returncode == 0
    over = ramfront(
        "check", "studies/alder-yard", "--strict", "--set", "valve.relief_pressure=4000 psi"
    )
    assert over.returncode == 3
    assert "CROSSED" in over.stdout
    assert "do not run it like this" in over.stdout
    lenient = ramfront("check", "studies/alder-yard", "--set", "valve.relief_pressure=4000 psi")
    assert lenient.returncode == 0


@pytest.mark.parametrize("study", STUDIES)
def test_front_json_and_table(study: str, tmp_path: Path) -> None:
    done = ramfront("front", f"studies/{study}", "--json", "--out", str(tmp_path))
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["proven"] is True
    assert found["designs_in_space"] >= 10**9
    assert 0 < found["designs_evaluated"] < 10**7
    assert len(found["designs"]) > 100
    times = [design["objectives"]["cycle.total_s"] for design in found["designs"]]
    assert times == sorted(times)
    for design in found["designs"]:
        assert len(design["parts"]) == 13
        assert set(design["objectives"]) == {"cycle.total_s", "force_N", "cost.outlay"}
        assert design["limits_min_margin"] >= 0.0
        assert design["binding"]
    with (tmp_path / "front.csv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.reader(table))
    assert len(rows) == len(found["designs"]) + 1
    assert {path.name for path in tmp_path.iterdir()} == {"front.csv"}


def test_a_part_put_on_is_settled_for_the_search() -> None:
    rod = "3 in rod, 75 ksi"
    found = answer("front", "studies/alder-yard", "--set", f"rod={rod}")
    assert found["designs_in_space"] < 5_598_720_000
    assert {design["parts"]["rod"] for design in found["designs"]} == {rod}
    refused = ramfront("front", "studies/alder-yard", "--set", "rod.diameter=3 in")
    assert refused.returncode == 2
    assert "rod.csv" in refused.stderr


def test_front_in_words_says_what_it_covers(tmp_path: Path) -> None:
    done = ramfront("front", "studies/kvarnby", "--out", str(tmp_path))
    assert done.returncode == 0, done.stderr
    lists = (ROOT / "studies/kvarnby").glob("*.csv")
    sizes = [len(file.read_text(encoding="utf-8").splitlines()) - 1 for file in lists]
    assert len(sizes) == 13
    assert f"{math.prod(sizes):,} machines" in done.stdout
    assert "proven" in done.stdout
    assert "written:" in done.stderr


def test_names_that_look_like_formulas_are_inert_in_the_table(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    marks = ("=HYPERLINK(1)", "+1", "@x")
    for file, mark in zip(("rod.csv", "tank.csv", "filter.csv"), marks, strict=True):
        path = tmp_path / "mine" / file
        head, *rows = path.read_text(encoding="utf-8").splitlines()
        names = [row.split(",")[0] for row in rows if row]
        changed = [row.replace(name, mark + name, 1) for row, name in zip(rows, names, strict=True)]
        path.write_text("\n".join([head, *changed]) + "\n", encoding="utf-8")
        study = tmp_path / "mine" / "study.toml"
        text = study.read_text(encoding="utf-8")
        for name in names:
            text = text.replace(f'"{name}"', f'"{mark}{name}"')
        study.write_text(text, encoding="utf-8")
    done = ramfront("front", "mine", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    with (tmp_path / "reports" / "mine" / "front.csv").open(encoding="utf-8", newline="") as table:
        rows = list(csv.reader(table))[1:]
    assert rows
    cells = [cell for row in rows for cell in row[:13]]
    for mark in marks:
        assert any(cell.startswith("'" + mark) for cell in cells), mark
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)


def test_same_study_same_table(small: str, tmp_path: Path) -> None:
    ramfront("front", small, "--out", str(tmp_path / "one"))
    as_process("front", small, "--out", str(tmp_path / "two"))
    one, two = (tmp_path / name / "front.csv" for name in ("one", "two"))
    assert one.read_bytes() == two.read_bytes()


def test_front_of_other_results(small: str, tmp_path: Path) -> None:
    out = ("--out", str(tmp_path))
    keys = "cycle.loaded_total_s, force_N, cost.price"
    found = answer("front", small, "--objectives", keys, *out)
    assert found["objectives"] == keys.split(", ")
    assert found["proven"] is True
    points = [tuple(one["objectives"].values()) for one in found["designs"]]
    assert [point[0] for point in points] == sorted(point[0] for point in points)
    assert len(points) > 20
    for one in points[::5]:
        assert not any(
            other != one and other[0] <= one[0] and other[1] >= one[1] and other[2] <= one[2]
            for other in points
        )
    words = ramfront("front", small, "--objectives", keys, *out).stdout
    assert "better in one of cycle through wood, force at relief, price" in " ".join(words.split())
    for wrong, said in (("oil.heat_W", "neither better small"), ("cost.price", "money alone")):
        refused = ramfront("front", small, "--objectives", wrong, *out)
        assert (refused.returncode, refused.stdout) == (2, "")
        assert said in refused.stderr


def test_few_machines_stand_for_the_front_and_it_stays_whole(small: str, tmp_path: Path) -> None:
    out = ("--out", str(tmp_path))
    found = answer("front", small, "--apart", "0.2 s, 10 %", *out)
    view = found["apart"]
    assert (view["time_s"], view["price_share"]) == (0.2, 0.1)
    assert len(view["stand_in"]) == len(found["designs"]) > 4 * len(view["shown"])
    with (tmp_path / "front.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) == len(found["designs"])
    words = ramfront("front", small, "--apart", "0.2 s, 10 %", *out).stdout
    assert f"{len(view['shown'])} of them stand for all" in " ".join(words.split())
    wrong = ramfront("front", small, "--apart", "0.1 kg, 5 %", *out)
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert '--apart "0.1 kg, 5 %": expected a time and a share' in wrong.stderr


def test_new_writes_a_study_that_runs(tmp_path: Path) -> None:
    done = ramfront("new", "mine", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert ramfront("check", "mine", "--strict", cwd=tmp_path).returncode == 0
    front = ramfront("front", "mine", cwd=tmp_path)
    assert front.returncode == 0, front.stderr
    assert (tmp_path / "reports" / "mine" / "front.csv").is_file()
    again = ramfront("new", "mine", cwd=tmp_path)
    assert again.returncode == 2
    assert "mine" in again.stderr


def test_new_writes_a_name_that_turns_writing_about_as_a_shell_takes_it(tmp_path: Path) -> None:
    name = "rod\u202e\x1b[31m\nit's"
    done = ramfront("new", name, cwd=tmp_path)
    assert (tmp_path / name / "study.toml").is_file()
    lines = done.stderr.splitlines()
    assert all(line.isprintable() for line in lines)
    assert lines[0] == r"written: rod\u202e\x1b[31m\nit's"
    word = lines[1].removeprefix("next: ramfront check ").partition("  ")[0]
    taken = subprocess.run(["bash", "-c", f"printf %s {word}"], capture_output=True, check=True)
    assert taken.stdout == name.encode()


def test_report_lands_on_disk_and_says_what_the_commands_say(tmp_path: Path) -> None:
    study, out = str(tmp_path / "planner"), tmp_path / "out"
    assert ramfront("new", study, "--for", "planner").returncode == 0
    air = "surroundings.air_temperature=-10..40 degC"
    sweeps = ("--sweep", "pump; rod", "--sweep", air)
    done = ramfront("report", study, *sweeps, "--out", str(out))
    assert done.returncode == 0, done.stderr
    page = (out / "report.html").read_text(encoding="utf-8")
    assert page.lstrip().lower().startswith("<!doctype html>")
    assert len(page) < 6_000_000
    assert "<dd>those of the study" in page
    assert {path.name for path in out.iterdir()} == {"front.csv", "report.html"}
    packed = re.search(r'id="packed-content">([^<]+)<', page)
    assert packed is not None
    content = json.loads(gzip.decompress(base64.b64decode(packed[1])))
    sections = {one["key"]: one for one in content["sections"]}
    for group, words in zip(sections["sweep"]["groups"], (("pump", "rod"), (air,)), strict=True):
        found = answer("sweep", study, *words)
        shown = [note[0][found["units"]] for note in group["notes"]]
        assert shown[: len(found["advice"])] == found["advice"]
        (chart,) = group["charts"]
        if chart["type"] == "stairs":
            assert [spot["y"] for spot in chart["spots"]] == pytest.approx(
                [point["work"]["split_period_s"] for point in found["points"]], rel=1e-5
            )
        else:
            crossed = sorted(one["value"] + 273.15 for one in found["crossings"])
            values = [one["value"] for one in chart["marks"] if one["sign"] != "now"]
            assert values == pytest.approx(crossed, rel=1e-5)
    line = answer("lineup", study)
    assert [note[0] for note in sections["lineup"]["notes"]] == line["advice"]
    worths = sections["lineup"]["charts"][0]["panels"][0]["series"][0]["y"]
    assert worths == pytest.approx([one["worth"] for one in line["lines"]], rel=1e-5)
    refused = ramfront("report", study, "--sweep", "pump; rod; bore")
    assert (refused.returncode, "one or two" in refused.stderr) == (2, True)


def test_report_of_a_part_put_on_says_why_it_is_slow_and_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", opened.append)
    rod = "rod=3.5 in rod, 75 ksi"
    done = ramfront("report", "studies/alder-yard", "--set", rod, "--open", "--out", str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert opened == [(tmp_path / "report.html").as_uri()]
    page = re.sub("<[^>]*>", "", (tmp_path / "report.html").read_text(encoding="utf-8"))
    words = " ".join(page.split("With the parts put on for this question")[1].split())
    assert words.startswith("3.5 in rod, 75 ksi")
    assert "The back stroke loses time because the pump drops to its small section" in words
    assert f"{4.5**2 / (4.5**2 - 3.5**2):.2f} times the oil" in words  # by areas
    assert "back stroke stays in high stage. Do not run it like this." in words


def test_faults_of_a_study_exit_with_two_and_write_nothing(tmp_path: Path) -> None:
    ramfront("new", "mine", cwd=tmp_path)
    file = tmp_path / "mine" / "study.toml"
    text = file.read_text(encoding="utf-8").replace('stroke = "', 'stroke = "x', 1)
    file.write_text(text + "\n[nonsense]\n", encoding="utf-8")
    for command in ("check", "fit", "front", "report"):
        done = ramfront(command, "mine", cwd=tmp_path)
        assert done.returncode == 2
        assert done.stdout == ""
        assert "frame.stroke" in done.stderr
        assert "nonsense" in done.stderr
        assert "Traceback" not in done.stderr
    assert not (tmp_path / "reports").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("check", "no-such-folder"), "no-such-folder"),
        (("check", "studies/alder-yard", "--set", "rod=no such rod"), "no such rod"),
        (("check", "studies/alder-yard", "--set", "nonsense"), "nonsense"),
        (("check", "studies/alder-yard", "--units", "cubits"), "cubits"),
        (("check",), "study"),
        (("weigh", "studies/alder-yard"), "weigh"),
    ],
)
def test_faults_of_a_call_exit_with_two(words: tuple[str, ...], said: str) -> None:
    done = ramfront(*words)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stdout == ""


def test_help_and_version_answer() -> None:
    assert "front" in ramfront("--help").stdout
    assert ramfront("--version").stdout.startswith("ramfront ")
    for command in ("new", "check", "fit", "front", "report"):
        assert "Examples:" in ramfront(command, "--help").stdout


def test_a_closed_pipe_ends_quietly() -> None:
    command = f"'{Path(sys.executable).with_name('ramfront')}' check studies/alder-yard | true"
    done = subprocess.run(
        ["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert "Traceback" not in done.stderr
    assert "Error" not in done.stderr


@pytest.fixture(scope="module")
def steps_said(
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[[str], tuple[str, set[str]]]:
    """Words of ``steps`` about a demonstration and the files it wrote, each made once."""

    @cache
    def said(study: str) -> tuple[str, set[str]]:
        folder = tmp_path_factory.mktemp(study)
        done = ramfront("steps", f"studies/{study}", "--out", str(folder), columns=200)
        assert done.returncode == 0, done.stderr
        return done.stdout, {path.name for path in folder.iterdir()}

    return said


@pytest.mark.parametrize("study", STUDIES)
def test_steps_answer_in_words_and_for_programs(
    study: str, steps_said: Callable[[str], tuple[str, set[str]]]
) -> None:
    said, files = steps_said(study)
    for words in ("good alone", "Plan: ", "spent so far", "never feel for a leak"):
        assert words in said
    assert files == {"steps.csv"}
    found = answer("steps", f"studies/{study}")
    assert found["proven"] is True
    assert len(found["advice"]) >= 2
    assert found["advice"][0] in " ".join(said.split())


def test_money_of_check_has_its_currency_and_no_time_is_minus_nothing(
    steps_said: Callable[[str], tuple[str, set[str]]],
) -> None:
    words = ramfront("check", "studies/alder-yard", columns=200).stdout
    assert re.search(r"Worth of a second +[\d.]+ USD +[\d.]+ to [\d.]+ USD", words)
    assert re.search(r"Labour and fuel per volume of wood +[\d.]+ USD/ft³", words)
    steps, _ = steps_said("alder-yard")
    assert "0.00 s" in steps
    assert not re.search(r"[-+]0\.00 s", steps)


def test_a_kept_answer_of_steps_can_be_asked_again(tmp_path: Path) -> None:
    """JSON and table hold the same question, and it gives the same answer."""
    words = ("steps", "studies/kvarnby", "--to", "rod=63 mm rod, 470 MPa", "--force", "150.25 kN",
             "--by", "cycle")  # fmt: skip
    found = answer(*words, "--out", str(tmp_path))
    question = found["question"]
    assert question == {
        "budget": None, "target_s": None, "to": {"rod": "63 mm rod, 470 MPa"},
        "force_N": pytest.approx(150_250.0), "by": "cycle",
    }  # fmt: skip
    with (tmp_path / "steps.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    again = ["steps", "studies/kvarnby"]
    for row in rows[:1]:
        assert (row["Budget asked"], row["Time asked [s]"]) == ("", "")
        for part in json.loads(row["Parts asked"]):
            again += ["--to", part]
        again += ["--force", f"{row['Force asked [kN]']} kN", "--by", row["Seconds asked"]]
    assert answer(*again) == found
    put_on = [machine["put_on"] for machine in found["plan"]["machines"]]
    for row, entry in zip(rows, found["steps"], strict=True):
        steps = [nth for nth, on in enumerate(put_on) if on.get(row["category"]) == row["part"]]
        assert row["Step of the plan"] == "".join(map(str, steps))
        assert entry["plan_step"] == (steps[0] if steps else None)
    assert sum(bool(row["Step of the plan"]) for row in rows) == sum(map(len, put_on)) > 0


def test_steps_refuse_two_goals_and_unknown_parts() -> None:
    two = ramfront("steps", "studies/alder-yard", "--budget", "100", "--target", "9 s")
    assert (two.returncode, two.stdout) == (2, "")
    assert "give one of them" in two.stderr
    unknown = ramfront("steps", "studies/alder-yard", "--to", "rod=3 inch rod")
    assert (unknown.returncode, unknown.stdout) == (2, "")
    assert 'found "3 inch rod", expected a name of rod.csv; did you mean' in unknown.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--force", "-3 lbf"), ['--force -3 lbf: found "-3 lbf", expected a force above 0']),
        (("--force", "0 lbf"), ['--force 0 lbf: found "0 lbf", expected a force above 0']),
        (
            ("--budget", "-1", "--force", "x", "--set", "nosuch=1", "--out", "README.md"),
            [
                '--set nosuch=1: found "nosuch", expected category=part',
                "README.md: found a file, expected a folder",
                '--budget -1: found "-1", expected an amount of money of 0 or more',
                '--force x: found "x", expected a force with its unit',
            ],
        ),
        (
            ("--to", "rod=9 in rod", "--to", "pump=bla", "--to", "rood=x", "--to", "rod=x",
             "--to", "rod", "--set", "bore.diameter=4 in", "--set", "rod.diameter=2 in"),
            [
                '--to rod=9 in rod: found "9 in rod", expected a name of rod.csv',
                '--to pump=bla: found "bla", expected a name of pump.csv',
                '--to rood=x: found "rood", expected CATEGORY=PART',
                "--to rod=x: found rod for a second time, expected one part of each",
                '--to rod: found "rod", expected CATEGORY=PART',
                "--set bore.diameter=...: a search takes parts",
                "--set rod.diameter=...: a search takes parts",
            ],
        ),
    ],
)  # fmt: skip
def test_steps_name_all_faults_of_a_call_at_once(words: tuple[str, ...], said: list[str]) -> None:
    done = ramfront("steps", "studies/alder-yard", *words)
    assert (done.returncode, done.stdout) == (2, "")
    lines = done.stderr.splitlines()
    assert len(lines) == len(said), done.stderr
    for line, start in zip(lines, said, strict=True):
        assert line.startswith(start)


def test_a_name_cannot_turn_the_writing_about(tmp_path: Path) -> None:
    write_starter(tmp_path)
    name = "Bore \u202e\u2067 mm 05"
    with (tmp_path / "study.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n[[user_limits]]\nname = '{name}'\nresult = 'force_N'\nat_least = '1 N'\n")
    told = " ".join(ramfront("check", str(tmp_path), columns=200).stdout.split())
    asked = ramfront("check", str(tmp_path), "--json").stdout
    for text in (told, asked):
        assert "Bore \\u202e\\u2067 mm 05" in text
        assert not {"\u202e", "\u2067"} & set(text)
    assert name in [limit["title"] for limit in json.loads(asked)["limits"]]
