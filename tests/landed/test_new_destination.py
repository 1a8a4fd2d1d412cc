"""The page on adding a jurisdiction, walked through: its file is read from the page and does what the page says."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

import fishplate.landed
from fishplate.build import Refused
from fishplate.cli.landed_command import command
from fishplate.landed import RuleSet
from fishplate.landed.kinds import Rule, RuleFile
from fishplate.landed.rules import read_rule_file, rules_from

PAGE = (Path(__file__).parents[2] / "docs" / "how-to-add-a-jurisdiction.md").read_text("utf-8")
DATA = Path(fishplate.landed.__file__).parent / "data"


def example() -> str:
    return PAGE.split("```toml\n", 1)[1].split("```", 1)[0]


def everywhere() -> list[RuleFile]:
    return [read_rule_file((DATA / name).read_text("utf-8"), source=name) for name in ("general.toml", "origins.toml")]


def iceland(text: str) -> RuleSet:
    return rules_from([read_rule_file(text, source="is.toml"), *everywhere()], "IS")


def test_command_of_the_page_says_what_the_page_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """The file stands where the package's own stand, and nothing else is changed."""
    texts = fishplate.landed.rules._package_texts()
    fishplate.landed.rules._package_rules.cache_clear()
    monkeypatch.setattr(fishplate.landed.rules, "_package_texts", lambda: (*texts, ("is.toml", example())))
    line = PAGE.split("    fishplate landed ", 1)[1].split("\n", 1)[0]
    arguments = line.replace('"100 EUR"', "100_EUR").replace('"20 EUR"', "20_EUR").split()
    result = CliRunner().invoke(command, [argument.replace("_", " ") for argument in arguments])
    fishplate.landed.rules._package_rules.cache_clear()
    assert result.exception is None, result.exception
    for words in ("at the door", "is.vat", "24 % of", "is.vat: undated (from memory)"):
        assert words in result.output


def test_destination_is_reckoned_from_the_file_alone() -> None:
    rules = iceland(example()).on(date(2026, 11, 24))
    assert rules.tax_share == Decimal("0.24")
    assert rules.duty_rate("870830").used == 0
    assert rules.set.currency == "ISK"


def test_faults_are_told_as_the_page_says() -> None:
    with pytest.raises(Refused, match=r"is\.toml, rule is\.vat, percent"):
        iceland(example().replace("percent = 24", "percent = -24"))
    second = example().split("[[rule]]")[3].replace('"is.vat"', '"is.vat.new"')
    with pytest.raises(Refused, match=r"both decide the tax.*End one before the other begins"):
        iceland(example() + "[[rule]]" + second)
    fee = 'id = "is.fee"\nkind = "fee"\nlabel = "advance"\ncurrency = "ISK"\npercent = 2\n'
    fee += 'source = "x"\nstatus = "published"\n'
    circle = example().replace('"freight", "duty"]', '"freight", "duty", "fees"]') + "[[rule]]\n" + fee
    with pytest.raises(Refused, match=r"fees rests on is\.fee rests on is\.vat rests on fees"):
        iceland(circle)


def test_page_names_every_kind_of_rule_there_is() -> None:
    union = Rule.__origin__  # type: ignore[attr-defined]
    kinds = {member.model_fields["kind"].annotation.__args__[0] for member in union.__args__}
    untold = {kind for kind in kinds if f"`{kind}`" not in PAGE}
    # of the origin tax the page speaks by its file; practices and the flat duty are no question of a new destination
    assert untold == {"origin-tax", "practice", "flat-duty"}
