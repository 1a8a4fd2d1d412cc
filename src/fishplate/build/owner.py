"""The owner's situation: place, currency, hours, money, patience."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import Field, model_validator

from .base import Country, NotNegative, Noun, Percent, Positive, Share
from .formats import Formats, LocaleCode, UnitSystem
from .money import Amount, Currency

Month = Annotated[int, Field(ge=1, le=12)]
Weekday = Annotated[int, Field(ge=1, le=7)]
Places = Annotated[int, Field(ge=0, le=8)]


class SeasonHours(Noun):
    """Hours a week the owner has in some months of the year."""

    months: tuple[Month, ...]
    hours: NotNegative


class DaysOff(Noun):
    """A span without any work at the vehicle, both days included."""

    first: date
    last: date
    why: str = ""

    @model_validator(mode="after")
    def _ordered(self) -> DaysOff:
        if self.last < self.first:
            raise ValueError("the last day is before the first")
        return self


class Helper(Noun):
    """A second person who comes on certain evenings, at the hours the owner works.

    Parameters
    ----------
    weekdays : the days they come, Monday 1 to Sunday 7; none: any day
    chance : that they come on such a day
    hours_per_week : hours a week with them, where no days are fixed; None: every such day [h]
    """

    name: str = ""
    weekdays: tuple[Weekday, ...] = ()
    chance: Share = 1
    hours_per_week: NotNegative | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Helper:
        if self.weekdays and self.hours_per_week is not None:
            raise ValueError("say on which days, or how many hours a week, not both")
        return self


class Owner(Noun):
    """Who builds, where, with what time and money. What is None is assumed, and listed as assumed.

    Parameters
    ----------
    country, region : where the garage is
    currency : home currency
    hours_per_week : usual hours a week at the vehicle [h]; seasons override it by month
    weekdays : days the week's hours are spread over, Monday 1 to Sunday 7; none: all seven
    works_on_holidays : whether public holidays of the country and region are days like any other
    helpers : when a second person is there; none: taken to be at hand whenever needed
    bays, lifts : how many jobs can stand in the garage, and on a lift, at once
    hour_worth : what one own hour is worth, in home currency
    week_delay_cost : what finishing a week later costs (rent, season, patience), in home currency
    cash_per_month, cash_now : money that can be spent, in home currency
    credit : money that can be borrowed beyond it, in home currency; credit_percent : its yearly cost [%]
    supplier_worth : what one supplier fewer to deal with is worth, in home currency
    carrying_percent : yearly cost of money tied up in parts not yet needed [%]
    keeping_percent : yearly cost of having a part before it is needed, as a share of its price, beside money tied up:
        room, a warranty that runs, plans that change [%]
    shelf_m3 : room for parts that are not yet fitted [m³]
    card_markup_percent : what the card adds to the reference rate when paying abroad [%]
    hours_left : rough hours left in the build, where no jobs are listed yet [h]
    private_person : False if the build belongs to a business registered for tax
    units, locale : how figures are shown and read; what is kept does not change with them
    """

    country: Country = "NL"
    region: str = ""
    currency: Currency = "EUR"
    hours_per_week: NotNegative | None = None
    seasons: tuple[SeasonHours, ...] = ()
    days_off: tuple[DaysOff, ...] = ()
    weekdays: tuple[Weekday, ...] = ()
    works_on_holidays: bool = True
    helpers: tuple[Helper, ...] = ()
    bays: Places = 1
    lifts: Places = 1
    hour_worth: Amount | None = Field(default=None, ge=0)
    week_delay_cost: Amount | None = Field(default=None, ge=0)
    cash_per_month: Amount | None = Field(default=None, ge=0)
    cash_now: Amount | None = Field(default=None, ge=0)
    credit: Amount | None = Field(default=None, ge=0)
    credit_percent: Percent | None = None
    supplier_worth: Amount | None = Field(default=None, ge=0)
    carrying_percent: Percent | None = None
    keeping_percent: Percent | None = None
    shelf_m3: NotNegative | None = None
    card_markup_percent: Percent | None = None
    hours_left: Positive | None = None
    private_person: bool = True
    units: UnitSystem = "metric"
    locale: LocaleCode = "en_GB"

    @property
    def formats(self) -> Formats:
        """How figures are shown to the owner, and read."""
        return Formats(self.units, self.locale)
