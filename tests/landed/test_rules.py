"""Rules are data: read, checked, resolved for a day, overridden in sight."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from importlib import resources

import pytest

from fishplate.build import Refused
from fishplate.build.commerce import RuleOverride
from fishplate.landed import RuleSet, load_rules
from fishplate.landed.kinds import Scope
from fishplate.landed.rules import read_rule_file, rules_from

DAY = date(2026, 11, 24)

RULE = """
applies_to = ["NO"]
currency = "NOK"
[[rule]]
id = "no.tax"
kind = "tax"
percent = {percent}
source = "test"
status = "{status}"
"""


def test_every_rule_says_its_source_and_status_and_has_an_id_of_its_own() -> None:
    rules = load_rules("NL").rules
    assert len({rule.id for rule in rules}) == len(rules) > 80
    assert all(rule.source and rule.status for rule in rules)


def test_members_of_the_union_differ_by_data_alone() -> None:
    german, swedish = load_rules("DE"), load_rules("SE")
    assert german.on(DAY).tax.percent == 19
    assert swedish.on(DAY).tax.percent == 25
    assert (german.currency, swedish.currency) == ("EUR", "SEK")
    assert german.single_market == swedish.single_market


@pytest.mark.parametrize("country", ["KR", "BR", "ZZ"])
def test_destination_without_rules_is_refused_and_no_number_is_made_up(country: str) -> None:
    with pytest.raises(Refused, match=f"no rules yet for {country}.*{country.lower()}.duty"):
        load_rules(country)


def test_rates_entered_by_the_owner_stand_in_for_a_country_without_rules() -> None:
    entered = [
        RuleOverride(rule="kr.duty", value=0, source="authority's page", day=DAY),
        RuleOverride(rule="kr.tax", value=25, source="authority's page", day=DAY),
    ]
    rules = load_rules("KR", entered, currency="KRW").on(DAY)
    assert rules.tax.percent == 25
    assert rules.duty_rate(None).used == 0
    assert rules.tax.status == "owner"


@pytest.mark.parametrize(("duty", "tax"), [(5000, 10), (-1, 10), (5, float("nan"))])
def test_rates_that_cannot_be_are_refused_for_a_country_without_rules(duty: float, tax: float) -> None:
    entered = [
        RuleOverride(rule="kr.duty", value=duty, source="x", day=DAY),
        RuleOverride(rule="kr.tax", value=tax, source="x", day=DAY),
    ]
    with pytest.raises(Refused, match=r"the owner's own figures, rule kr\.(duty|tax), percent: "):
        load_rules("KR", entered, currency="KRW")


@pytest.mark.parametrize(
    ("text", "what"),
    [
        (RULE.format(percent=-1, status="published"), "rule no.tax, percent"),
        (RULE.format(percent=25, status="rumour"), "rule no.tax, status"),
        (RULE.format(percent=25, status="published") + 'colour = "red"\n', "rule no.tax, colour"),
        (RULE.format(percent=25, status="published").replace('"tax"', '"levy"'), "rule no.tax"),
        (RULE.format(percent=25, status="published") * 1 + RULE.split("\n", 3)[3].format(percent=5, status="published"),
         "rule no.tax"),
        ("applies_to = [", "not TOML"),
    ],
)  # fmt: skip
def test_faulty_rule_file_is_refused_with_its_place(text: str, what: str) -> None:
    with pytest.raises(Refused, match=what):
        read_rule_file(text, source="no.toml")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            'applies_to = ["is"]\nrule = []\n',
            "no.toml, applies_to, 1: not a country code ('is'). Use two",
        ),
        ("applies_to = []\nrule = []\n", "applies_to names no country"),
        ('applies_to = ["NO"]\nrule = ["a"]\n', "no.toml, rule 1: an object with fields belongs here ('a')"),
        (RULE.replace('"tax"', '"levy"'), "rule no.tax: 'levy' is no kind of rule"),
        (RULE.replace('kind = "tax"\n', ""), "rule no.tax: its kind is missing"),
        (RULE.replace('source = "test"\n', ""), "rule no.tax, source: a field that must be there is missing. Add it."),
        (RULE + 'colour = "red"\n', "rule no.tax, colour: a field Fishplate does not know ('red'). Remove it"),
    ],
)
def test_fault_of_a_rule_file_is_said_in_plain_words(text: str, words: str) -> None:
    with pytest.raises(Refused) as refusal:
        read_rule_file(text.replace("{percent}", "1").replace("{status}", "owner"), source="no.toml")
    assert words in str(refusal.value)


def test_file_without_a_currency_is_refused_with_what_to_write() -> None:
    text = RULE.format(percent=25, status="published").replace('currency = "NOK"\n', "")
    with pytest.raises(Refused, match=r'does not say in which currency.*currency = "EUR"'):
        rules_from([read_rule_file(text, source="no.toml")], "NO")


def test_destination_file_without_a_needed_rule_is_refused() -> None:
    file = read_rule_file(RULE.format(percent=25, status="published"), source="no.toml")
    with pytest.raises(Refused, match="no rule of the kind valuation"):
        rules_from([file], "NO").on(DAY)


def test_package_data_holds_only_rule_files_that_read() -> None:
    folder = resources.files("fishplate.landed") / "data"
    names = {entry.name for entry in folder.iterdir()}
    assert {"eu.toml", "nl.toml", "origins.toml", "general.toml"} <= names


@pytest.mark.parametrize(
    ("heading", "percent", "known"),
    [
        ("84821090", 8, True),  # as in the table
        ("8482109000", 8, True),  # longer than the table's line
        ("870830", Decimal("4.5"), True),  # both lines of the heading say the same
        ("870840", Decimal("4.5"), False),  # 3.5 and 4.5: the dearer is used
        ("8708405000", Decimal("4.5"), False),  # near those lines
        ("6109100010", Decimal("4.5"), False),  # nothing near: the default
        (None, Decimal("4.5"), False),
    ],
)
def test_duty_goes_by_the_longest_heading_that_fits(heading: str | None, percent: Decimal, known: bool) -> None:
    found = load_rules("NL").on(DAY).duty_rate(heading)
    assert found.used * 100 == percent
    assert found.known is known
    assert found.low <= found.used <= found.high


def test_relief_is_used_to_its_last_day_and_flat_duty_from_the_next() -> None:
    rules = load_rules("NL")
    last = rules.on(date(2026, 6, 30))
    assert [rule.id for rule in last.reliefs] == ["eu.relief150.old"]
    assert last.flat is None
    first = rules.on(date(2026, 7, 1))
    assert not first.reliefs
    assert first.flat is not None
    assert rules.on(date(2028, 7, 1)).flat is None


def test_rule_undated_or_old_or_expired_says_so() -> None:
    rules = load_rules("NL")
    assert rules.by_id("eu.valuation").doubt_on(DAY) == "eu.valuation: undated (published)"
    assert rules.by_id("nl.vat").doubt_on(DAY) is None
    assert "over a year before" in rules.by_id("nl.vat").doubt_on(date(2027, 6, 1))
    assert "out of validity since 2026-06-30" in rules.by_id("eu.relief150.old").doubt_on(DAY)
    assert "out of validity until 2026-07-01" in rules.by_id("eu.flat3").doubt_on(date(2026, 1, 1))


def test_tax_out_of_validity_is_used_for_want_of_another_and_flagged() -> None:
    text = RULE.format(percent=25, status="published") + "valid_to = 2025-12-31\n"
    base = """
applies_to = ["NO"]
currency = "NOK"
[[rule]]
id = "no.valuation"
kind = "valuation"
freight_in_duty_base = true
source = "test"
status = "published"
[[rule]]
id = "no.base"
kind = "tax-base"
on = ["goods"]
source = "test"
status = "published"
[[rule]]
id = "no.duty"
kind = "duty-default"
percent = 0
low = 0
high = 0
source = "test"
status = "published"
"""
    files = [read_rule_file(text, source="a.toml"), read_rule_file(base, source="b.toml")]
    rules = rules_from(files, "NO").on(DAY)
    assert rules.tax.percent == 25
    assert "used for want of another" in (rules.tax.doubt_on(DAY) or "")


def test_override_replaces_the_rate_with_the_owners_source() -> None:
    given = RuleOverride(rule="eu.rate.8708_30_99", value=0, source="binding ruling", day=DAY)
    rules, unused = load_rules("NL").with_overrides([given])
    found = rules.on(DAY).duty_rate("87083099")
    assert found.used == 0
    assert "binding ruling" in found.rule.note
    assert not unused


def test_override_of_over_a_year_ago_says_so() -> None:
    for when, words in ((date(2025, 11, 24), None), (date(2024, 11, 1), "last checked 1 November 2024")):
        own = RuleOverride(rule="nl.vat", value=20, source="own look", day=when)
        doubt = load_rules("NL").with_overrides([own])[0].by_id("nl.vat").doubt_on(DAY)
        assert (words is None and doubt is None) or (words or "?") in (doubt or "")


def test_override_of_a_rule_of_the_past_does_not_stand_beside_the_present_one() -> None:
    own = RuleOverride(rule="ca.tax.ns.old", value=15, source="own look", day=DAY)
    rules, _ = load_rules("CA").with_overrides([own])
    private = Scope(region="NS")
    assert rules.on(DAY, private).tax_share == Decimal("0.14")
    assert rules.on(date(2025, 3, 1), private).tax_share == Decimal("0.15")


def test_override_of_a_fee_whose_year_is_over_holds_from_now_on() -> None:
    own = RuleOverride(rule="nz.fee.entry", value=55, source="own look", day=DAY)
    fee = load_rules("NZ").with_overrides([own])[0].by_id("nz.fee.entry")
    assert fee.holds_on(DAY)


def test_override_makes_a_rate_for_a_heading_the_table_lacks() -> None:
    given = RuleOverride(rule="duty.6109", value=12, source="authority's page", day=DAY)
    rules, _ = load_rules("NL").with_overrides([given])
    assert rules.on(DAY).duty_rate("61091000").used == Decimal("0.12")


def test_override_that_names_nothing_is_said_and_one_below_zero_refused() -> None:
    lost = RuleOverride(rule="eu.rate.9999", value=1, source="x", day=DAY)
    _, unused = load_rules("NL").with_overrides([lost])
    assert unused == ("the override eu.rate.9999 names no rule for NL and is not used",)
    below = RuleOverride(rule="nl.vat", value=-1, source="x", day=DAY)
    with pytest.raises(Refused, match="below zero"):
        load_rules("NL").with_overrides([below])


# rules that do not go together

HEAD = """
applies_to = ["NO"]
currency = "NOK"
"""
WHOLE = [
    'id = "no.valuation"\nkind = "valuation"\nfreight_in_duty_base = true',
    'id = "no.base"\nkind = "tax-base"\non = ["goods"]',
    'id = "no.duty"\nkind = "duty-default"\npercent = 0\nlow = 0\nhigh = 0',
    'id = "no.tax"\nkind = "tax"\npercent = 25',
]


def told(*rules: str) -> str:
    """What is said about rules added to a whole destination; an added rule takes the place of one with its id."""
    ids = {rule.split("\n")[0] for rule in rules}
    texts = [*(rule for rule in WHOLE if rule.split("\n")[0] not in ids), *rules]
    text = HEAD + "".join(f'[[rule]]\n{rule}\nsource = "test"\nstatus = "published"\n' for rule in texts)
    with pytest.raises(Refused) as refusal:
        rules_from([read_rule_file(text, source="no.toml")], "NO")
    return str(refusal.value)


@pytest.mark.parametrize(
    "rule",
    [
        'id = "no.duty.again"\nkind = "duty-default"\npercent = 5\nlow = 5\nhigh = 5',
        'id = "no.tax.again"\nkind = "tax"\npercent = 15\nvalid_from = 2026-01-01',
        'id = "no.valuation.post"\nkind = "valuation"\nfreight_in_duty_base = false\nstreams = ["post"]',
    ],
)
def test_overlapping_rules_are_refused_with_place_and_remedy(rule: str) -> None:
    said = told(rule)
    assert "destination NO, rule no." in said
    assert "both decide the" in said
    assert "End one before the other begins" in said


FEE = 'kind = "fee"\nlabel = "entry"\ncurrency = "NOK"\nflat = 5'
PARTNER = 'kind = "preference"\npercent = 0\norigins = ["JP", "KR"]'
STEP = 'kind = "rounding"\nstep = "tax"\nunit = 1'


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (f"{FEE}\nup_to = 2500", f"{FEE}\nabove = 2000"),  # both would be charged of 2,200
        (FEE, f"{FEE}\nabove = 2000"),
        (PARTNER, PARTNER.replace('"JP", ', "").replace("0", "3")),  # of two rates the first would be taken
        (f'{PARTNER}\nheadings = ["8708", "8409"]', f'{PARTNER}\nheadings = ["8708"]'),
        (f'{STEP}\nmode = "up"\nof = ["no.tax"]', f'{STEP}\nmode = "down"\nof = ["no.tax"]'),
        (f'{STEP}\nmode = "up"', f'{STEP}\nmode = "down"'),
    ],
)
def test_rules_that_share_what_they_decide_only_in_part_overlap_too(one: str, other: str) -> None:
    said = told(f'id = "no.a"\n{one}', f'id = "no.b"\n{other}')
    assert "destination NO, rule no.a: it and no.b both decide the" in said


def whole_with(*rules: str) -> RuleSet:
    text = HEAD + "".join(f'[[rule]]\n{rule}\nsource = "test"\nstatus = "published"\n' for rule in [*WHOLE, *rules])
    return rules_from([read_rule_file(text, source="no.toml")], "NO")


def test_fees_of_one_name_may_follow_each_other() -> None:
    fees = whole_with(f'id = "no.a"\n{FEE}\nup_to = 2500', f'id = "no.b"\n{FEE}\nabove = 2500').on(DAY).fees
    assert len(fees) == 2


def test_the_rule_for_a_heading_or_a_tax_comes_before_the_one_for_all() -> None:
    rules = whole_with(
        f'id = "no.a"\n{PARTNER}', f'id = "no.b"\n{PARTNER.replace("0", "3")}\nheadings = ["8708"]',
        f'id = "no.c"\n{STEP}\nmode = "up"', f'id = "no.d"\n{STEP}\nmode = "down"\nof = ["no.tax"]',
    ).on(DAY)  # fmt: skip
    assert [rules.preference("JP", heading).id for heading in ("870830", "840991")] == ["no.b", "no.a"]
    assert [rules.rounding("tax", tax).mode for tax in ("no.tax", "no.other")] == ["down", "up"]


@pytest.mark.parametrize(
    ("added", "words"),
    [
        ("tiers = [{ to = 100, fee = 1 }, { to = 50, fee = 2 }]", "its steps do not rise"),
        ("tiers = [{ fee = 1 }, { to = 50, fee = 2 }]", "a step without an end stands before the last"),
        ("minimum = 10\nmaximum = 5", "its maximum is below its minimum"),
        ("above = 100\nup_to = 100", "up_to is not above the amount it begins above"),
        ("beyond_each = 100\nbeyond_fee = 5", "beyond_each needs steps"),
    ],
)
def test_fee_that_cannot_be_is_refused_with_its_place(added: str, words: str) -> None:
    with pytest.raises(Refused, match=rf"no\.toml, rule no\.a.*{words}"):
        whole_with(f'id = "no.a"\n{FEE}\n{added}')


def test_rule_of_a_second_file_does_not_silently_take_the_place_of_the_first() -> None:
    first = HEAD + "".join(f'[[rule]]\n{rule}\nsource = "test"\nstatus = "published"\n' for rule in WHOLE)
    second = f'{HEAD}[[rule]]\n{WHOLE[3].replace("25", "12")}\nsource = "own"\nstatus = "owner"\n'
    files = [read_rule_file(text, source=name) for text, name in ((first, "no.toml"), (second, "own.toml"))]
    with pytest.raises(Refused, match=r"rule no\.tax: rules of several files have this id.*names it in instead_of"):
        rules_from(files, "NO")


@pytest.mark.parametrize(
    ("narrowed", "words"),
    [
        ('regions = ["N"]', r"rule no\.a, regions: there is no such region \('N'\)"),
        ('members = ["DE"]', r"rule no\.a, members: there is no such member \('DE'\)"),
    ],
)
def test_rule_for_a_place_nobody_knows_is_refused(narrowed: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        whole_with(f'id = "no.a"\n{FEE}\n{narrowed}')


def test_rules_apart_by_day_place_or_word_do_not_overlap() -> None:
    apart = [
        'id = "no.old"\nkind = "waiver"\nbelow = 5\ncurrency = "NOK"\nvalid_to = 2020-12-31',
        'id = "no.new"\nkind = "waiver"\nbelow = 1\ncurrency = "NOK"\nvalid_from = 2021-01-01',
        'id = "no.a"\nkind = "relief"\nlimit = 5\ncurrency = "NOK"\nexempts = ["duty"]\nsent_from = ["US"]',
        'id = "no.b"\nkind = "relief"\nlimit = 9\ncurrency = "NOK"\nexempts = ["duty"]\nnot_sent_from = ["US", "MX"]',
        'id = "no.tax.north"\nkind = "tax"\npercent = 0\ninstead_of = ["no.tax"]\nregions = ["N"]',
    ]
    head = HEAD + '[regions]\nN = "North"\n'
    text = head + "".join(f'[[rule]]\n{rule}\nsource = "test"\nstatus = "published"\n' for rule in [*WHOLE, *apart])
    rules_from([read_rule_file(text, source="no.toml")], "NO").on(DAY)


def test_tax_on_fees_of_which_one_is_of_the_tax_is_refused_as_cyclic() -> None:
    fee = 'id = "no.fee"\nkind = "fee"\nlabel = "advancing"\ncurrency = "NOK"\npercent = 2\nof = "charges"'
    base = 'id = "no.base"\nkind = "tax-base"\non = ["goods", "fees"]'
    said = told(base, fee)
    assert "a base rests on itself" in said
    assert "fees rests on no.fee rests on no.tax" in said
    assert "Take one of them out" in said


def test_taxes_on_each_other_are_refused_as_cyclic() -> None:
    one = 'id = "no.tax"\nkind = "tax"\npercent = 25\non = ["goods", "no.other"]'
    other = 'id = "no.other"\nkind = "tax"\nlabel = "other"\npercent = 5\non = ["no.tax"]'
    assert "no.tax rests on no.other rests on no.tax" in told(one, other)


def test_rules_instead_of_each_other_are_refused_as_cyclic() -> None:
    one = 'id = "no.a"\nkind = "waiver"\nbelow = 5\ncurrency = "NOK"\ninstead_of = ["no.b"]'
    other = 'id = "no.b"\nkind = "waiver"\nbelow = 1\ncurrency = "NOK"\ninstead_of = ["no.a"]'
    assert "a base rests on itself" in told(one, other)


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (
            'id = "no.x"\nkind = "waiver"\nbelow = 1\ncurrency = "NOK"\ninstead_of = ["no.lost"]',
            "there is no such rule",
        ),
        ('id = "no.x"\nkind = "surtax"\npercent = 1\nunless = ["no.lost"]', "rule no.x, unless: there is no such rule"),
        ('id = "no.x"\nkind = "rounding"\nstep = "tax"\nunit = 1\nmode = "down"\nof = ["no.lost"]', "rule no.x, of"),
        ('id = "no.tax"\nkind = "tax"\npercent = 1\non = ["no.late"]', "stands after it in the file"),
        ('id = "no.x"\nkind = "surtax"\npercent = 1\nunless = ["no.group"]', "no.group stands after it in the file"),
    ],
)
def test_names_of_nothing_and_of_later_rules_are_refused(rule: str, words: str) -> None:
    late = 'id = "no.late"\nkind = "tax"\nlabel = "late"\npercent = 1\non = ["goods"]'
    last = 'id = "no.last"\nkind = "surtax"\npercent = 5\nonly_one_of = "no.group"'
    assert words in told(rule, late, last)


def test_last_day_before_the_first_is_refused() -> None:
    text = RULE.format(percent=25, status="published") + "valid_from = 2026-02-01\nvalid_to = 2026-01-31\n"
    with pytest.raises(Refused, match="valid_to is before valid_from"):
        read_rule_file(text, source="no.toml")


def test_override_of_a_value_a_rule_lacks_is_said_and_one_that_cannot_be_refused() -> None:
    lost = RuleOverride(rule="nl.vat/colour", value=1, source="x", day=DAY)
    _, unused = load_rules("NL").with_overrides([lost])
    assert unused == ("the override nl.vat/colour names no rule for NL and is not used",)
    for rule in ("nl.vat", "duty.87083050"):
        too_much = RuleOverride(rule=rule, value=5000, source="x", day=DAY)
        with pytest.raises(Refused, match=rf"rule override {rule}, value: must be at most 1000"):
            load_rules("NL").with_overrides([too_much])


@pytest.mark.parametrize("rule", ["duty.870", "duty.8708305", "duty.", "duty.x", "eu.exchange/QQQ"])
def test_override_for_a_heading_or_currency_that_cannot_be_is_said(rule: str) -> None:
    _, unused = load_rules("NL").with_overrides([RuleOverride(rule=rule, value=1, source="x", day=DAY)])
    assert unused == (f"the override {rule} names no rule for NL and is not used",)
