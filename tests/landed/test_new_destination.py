"""The page on adding a jurisdiction, walked through: its file is read from the page and does what the page says."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

import fishplate.landed
from fishplate.build import Refused
from fishplate.cli import main
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


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's own folder of rule files."""
    monkeypatch.setenv("FISHPLATE_DATA", str(tmp_path))
    folder = tmp_path / "rules"
    folder.mkdir()
    return folder


def test_command_of_the_page_says_what_the_page_says(own: Path) -> None:
    """The file stands where the page puts it, and nothing else is changed."""
    (own / "is.toml").write_text(example(), "utf-8")
    line = PAGE.split("    fishplate landed ", 1)[1].split("\n", 1)[0]
    arguments = line.replace('"100 EUR"', "100_EUR").replace('"20 EUR"', "20_EUR").split()
    result = CliRunner().invoke(command, [argument.replace("_", " ") for argument in arguments])
    assert result.exception is None, result.exception
    for words in ("at the door", "is.vat", "24 % of", "is.vat: undated (from memory)"):
        assert words in result.output


def priced(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What is said of goods, on one line."""
    with pytest.raises(SystemExit):
        main(["landed", "--price", "1000 CAD", "--from", "KR", "--as-of", "2026-11-24", *arguments])
    said = capsys.readouterr()
    return " ".join((said.out + said.err).split())


def test_own_file_changes_a_rule_of_a_known_destination_in_sight(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rule = 'id = "own.sk"\nkind = "tax"\nlabel = "PST"\npercent = 3\nregions = ["SK"]\nbuyer = "private"\n'
    rule += 'instead_of = ["ca.tax.sk"]\nsource = "its finance ministry"\nas_of = 2026-11-20\nstatus = "published"\n'
    (own / "sk.toml").write_text(f'applies_to = ["CA"]\n[[rule]]\n{rule}', "utf-8")
    output = priced(capsys, "--to", "CA-SK", "--heading", "840991")
    assert "3 % of 1,000.00 CAD" in output
    assert "own.sk (published): its finance ministry" in output


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("applies_to = [", "not TOML"),
        ('applies_to = ["CA"]\n[[rule]]\nid = "ca.gst"\nkind = "tax"\npercent = 9\nsource = "x"\nstatus = "owner"\n',
         "rule ca.gst: rules of several files have this id"),
        ('applies_to = ["CA"]\n[[rule]]\nid = "own.x"\nkind = "tax"\npercent = -9\nsource = "x"\nstatus = "owner"\n',
         "own.toml, rule own.x, percent"),
        ('applies_to = ["CA"]\n[[rule]]\nid = "own.gst"\nkind = "tax"\nlabel = "GST"\npercent = 9\nsource = "x"\n'
         'status = "owner"\n', "both decide the tax"),
    ],
)  # fmt: skip
def test_own_file_that_cannot_be_is_refused_with_place_and_remedy(
    own: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    (own / "own.toml").write_text(text, "utf-8")
    output = priced(capsys, "--to", "CA-AB")
    assert words in output
    assert "Traceback" not in output
    assert "at the door" not in output


def test_own_file_that_cannot_be_read_is_refused(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (own / "own.toml").write_bytes(b"\xff\xfe")
    assert "Save it as UTF-8 text" in priced(capsys, "--to", "NL")


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
