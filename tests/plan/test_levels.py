"""Each level of a first evening works with nothing of the next, from a sheet as a stranger keeps it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest
from plan_builds import AS_OF, situation_of

from fishplate.build import Build, build_from_data, document_data
from fishplate.build.owner import Owner
from fishplate.exchange import ImportOptions, apply, preview, read_tables
from fishplate.plan import Plan, plan
from fishplate.plan.main_job import level_of

SHEET = (files("fishplate.starters") / "lists" / "first-evening.csv").read_text(encoding="utf-8")
PHASES = {"BRAKES": "assembly", "FRONT END": "mock-up", "WHEELS": "mock-up", "REST": "commission"}
LEADS = {"Dampers, adjustable": "6 weeks", "Wire wheels 15 x 5,5": "14 weeks", "Lower arms": "2-3 weeks"}
BACK = {"Dampers, adjustable": "30", "Wire wheels 15 x 5,5": "0", "Lower arms": "14"}


def widened(sheet: str, columns: dict[str, dict[str, str]], phases: dict[str, str] | None = None) -> str:
    """The sheet with more columns, each filled by the name of the row, and with a phase by the heading above."""
    lines, heading = [], ""
    for line in sheet.splitlines():
        first = line.split(";")[0]
        heading = first if first in PHASES else heading
        more = [column if first == "Part" else values.get(first, "") for column, values in columns.items()]
        is_row = len(line.split(";")) > 1 and bool(line.split(";")[1])
        if phases is not None:
            more.append("Phase" if first == "Part" else phases.get(heading, "") if is_row else "")
        lines.append(";".join([line, *more]))
    return "\n".join(lines)


def imported(tmp_path: Path, sheet: str, **owner: object) -> Build:
    """A build from a sheet, with nothing said but what the sheet says."""
    file = tmp_path / "list.csv"
    file.write_text(sheet, encoding="utf-8")
    build = Build(name="Roadster", owner=Owner.model_validate(owner))
    found = preview(read_tables(file), build, {}, options=ImportOptions(day=AS_OF))
    assert not found.problems
    return apply(found, build)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("levels")


@pytest.fixture(scope="module")
def bare(folder: Path) -> Plan:
    return plan(situation_of(imported(folder, SHEET)))


@pytest.fixture(scope="module")
def phased(folder: Path) -> Plan:
    return plan(situation_of(imported(folder, widened(SHEET, {}, PHASES), hours_per_week=6)))


@pytest.fixture(scope="module")
def terms(folder: Path) -> Plan:
    sheet = widened(SHEET, {"Lead time": LEADS, "Return days": BACK}, PHASES)
    return plan(situation_of(imported(folder, sheet, hours_per_week=6)))


# L0: names, prices, currencies


def test_a_bare_list_comes_to_a_total_at_the_door(bare: Plan) -> None:
    assert bare.level == 0
    assert len(bare.purchase.lines) == 23
    # in euros and untaxed abroad: 523.80 + 187.50 + 1157.50 + 390 + 285 from the single market (tax stays in the price)
    home = {"veerhoek-remmen": 523.80, "lindhafen-fahrwerk": 1157.50, "polderband-banden": 390.0}
    for supplier, amount in home.items():
        assert sum(line.landed for line in bare.purchase.lines if line.supplier == supplier) == pytest.approx(amount)
    abroad = [line for line in bare.purchase.lines if line.supplier == "tidegate-wheelworks"]
    # 5 x 245 + 4 x 112 GBP at 0.85 GBP a euro are 1968.24 EUR before freight, duty and tax
    assert sum(line.landed for line in abroad) > 1968.24 * 1.2
    assert all(line.route for line in bare.purchase.lines)


def test_a_bare_list_gets_no_invented_dates(bare: Plan) -> None:
    assert bare.finish.p50 is None
    assert bare.actions == ()
    assert bare.cash == ()
    assert bare.stall == ()
    for line in bare.purchase.lines:
        assert line.order_by is None
        assert line.arrives_p50 is None
        assert line.arrives_p90 is None
        assert line.late_cost == 0


def test_a_bare_list_says_what_has_no_price(bare: Plan) -> None:
    assert set(bare.purchase.unmet) == {"knock-off-nuts"}
    assert any("Knock-off nuts (4 wanted): nobody is known to sell it" in note for note in bare.notes)


def test_a_bare_list_is_asked_three_things_that_can_change_it(bare: Plan) -> None:
    keys = [question.key for question in bare.questions]
    assert keys[0] == "phases"
    assert len(keys) == 3
    # nothing dates the work, so hours, patience and money by month would change nothing yet
    assert not {"hours-per-week", "week-delay-cost", "cash-per-month"} & set(keys)


# L1: each row in a phase, hours a week


def test_phases_and_hours_give_order_by_months(phased: Plan) -> None:
    assert phased.level == 1
    months = {line.part: line.order_by for line in phased.purchase.lines}
    assert all(day is not None for day in months.values())
    # mock-up comes first, assembly after it, commissioning last
    assert months["Lower arms"] < months["Front discs, vented"] < months["Radiator recore"]  # type: ignore[operator]
    assert phased.finish.p10 < phased.finish.p50 < phased.finish.p95  # type: ignore[operator]


def test_phases_and_hours_give_a_cash_line(phased: Plan) -> None:
    assert sum(line.p50 for line in phased.cash) == pytest.approx(phased.purchase.total, rel=0.02)
    assert len(phased.cash) > 3
    assert all(line.p10 <= line.p50 <= line.p90 for line in phased.cash)


def test_what_is_needed_late_is_not_bought_first(phased: Plan) -> None:
    radiator = next(line for line in phased.purchase.lines if line.part == "Radiator recore")
    arms = next(line for line in phased.purchase.lines if line.part == "Lower arms")
    assert radiator.order_by is not None
    assert arms.order_by is not None
    assert (radiator.order_by - arms.order_by).days > 60


def test_a_list_of_which_half_has_a_phase_is_dated_in_whole_and_says_so(folder: Path) -> None:
    half = {heading: phase for heading, phase in PHASES.items() if heading in ("BRAKES", "WHEELS")}
    result = plan(situation_of(imported(folder, widened(SHEET, {}, half), hours_per_week=6)))
    assert any(item.code == "phase-default" for item in result.assumptions)
    assert "phases" in {question.key for question in result.questions} or len(result.questions) == 3


# L2: lead times and return terms of the dearest rows


def test_lead_times_and_return_terms_are_read_and_planned_with(terms: Plan, phased: Plan) -> None:
    assert terms.level == 2
    sheet = {line.part: line for line in terms.purchase.lines}
    before = {line.part: line for line in phased.purchase.lines}
    wheels, dampers = sheet["Wire wheels 15 x 5,5"], sheet["Dampers, adjustable"]
    # fourteen weeks slip by 1.3 on average
    assert wheels.arrives_p50 is not None
    assert (wheels.arrives_p50 - AS_OF).days > 13 * 7
    assert wheels.order_by == AS_OF
    assert dampers.arrives_p50 > before["Dampers, adjustable"].arrives_p50  # type: ignore[operator]
    assert wheels.late_cost > before["Wire wheels 15 x 5,5"].late_cost


def test_lead_times_without_phases_are_not_said_to_be_dated(folder: Path) -> None:
    assert level_of(situation_of(imported(folder, widened(SHEET, {"Lead time": LEADS}, {})))) == 0


def test_a_known_lead_time_is_not_asked_for_again(terms: Plan) -> None:
    asked = {question.key for question in terms.questions}
    assert not any(key.startswith(("lead:wire-wheels", "lead:dampers", "returns:wire-wheels")) for key in asked)


def test_until_when_each_offer_may_wait_is_told(terms: Plan) -> None:
    by_offer = {timing.offer: timing for timing in terms.purchase.timings}
    wheels = next(key for key in by_offer if key.startswith("wire-wheels"))
    belts = next(key for key in by_offer if key.startswith("seat-belts"))
    assert by_offer[wheels].last_safe == AS_OF
    assert by_offer[belts].last_safe > date(2026, 6, 1)


# L3: where parts meet


def with_interface(build: Build) -> Build:
    """The build with one place where the wheel meets the arch, half of it known."""
    data = document_data(build)
    data["interfaces"] = [{"id": "tyre-arch", "name": "Tyre and arch", "parts": ["tyres-185-65-r-15"]}]
    data["dimensions"] = [
        {"id": "arch_width", "name": "Hub face to arch lip", "minutes": 15},
        {"id": "tyre_reach", "name": "Hub face to tyre wall"},
    ]
    data["readings"] = [{"id": "r1", "dimension": "tyre_reach", "value": 92, "spread": 3, "day": AS_OF.isoformat()}]
    condition = {"id": "gap", "interface": "tyre-arch", "name": "Tyre clears", "expression": "arch_width - tyre_reach"}
    data["conditions"] = [{**condition, "at_least": "12 mm", "late_cost": 150, "early_hours": 1}]
    return build_from_data(data)


def test_interfaces_say_what_to_measure(folder: Path) -> None:
    build = with_interface(imported(folder, SHEET))
    result = plan(situation_of(build))
    assert result.level == 3
    (line,) = result.fit
    assert line.verdict == "not known"
    measure = next(action for action in result.actions if action.kind == "measure")
    assert measure.what.startswith("Measure: Hub face to arch lip (15 min)")


@pytest.mark.parametrize("name", ["bare", "phased", "terms"])
def test_no_level_asks_more_than_three_questions(name: str, request: pytest.FixtureRequest) -> None:
    result: Plan = request.getfixturevalue(name)
    assert 1 <= len(result.questions) <= 3
    worths = [question.worth for question in result.questions]
    assert worths == sorted(worths, reverse=True)
    assert all(question.text.endswith("?") and question.why for question in result.questions)


# nothing, and one kind of noun at a time


def test_an_empty_build_is_planned_and_asked_for_a_list() -> None:
    result = plan(situation_of(Build()))
    assert result.actions == ()
    assert result.purchase.total == 0
    assert [question.key for question in result.questions] == ["parts"]


def test_a_build_finished_and_bought_needs_nothing(folder: Path) -> None:
    build = imported(folder, SHEET)
    stock = [{"id": f"s-{part.id}", "part": part.id, "quantity": part.quantity} for part in build.parts]
    result = plan(situation_of(build_from_data({**document_data(build), "stock": stock})))
    assert result.purchase.lines == ()
    assert result.purchase.total == 0
    assert result.purchase.unmet == {}


def test_more_draws_move_the_dates_little(folder: Path, phased: Plan) -> None:
    situation = situation_of(imported(folder, widened(SHEET, {}, PHASES), hours_per_week=6), runs=1500)
    finer = plan(replace(situation, waiting_runs=400))
    assert finer.finish.p50 is not None
    assert phased.finish.p50 is not None
    assert abs((finer.finish.p50 - phased.finish.p50).days) <= 21
