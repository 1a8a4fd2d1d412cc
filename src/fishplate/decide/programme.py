"""Whole-vehicle choices as a constraint programme."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any, Final

from ortools.sat.python import cp_model

from .vehicle import Barrier, VehicleChoice

# Figures are whole units of home currency, tenths of an hour and tenths of a point.
HOURS_SCALE: Final = 10
VALUE_SCALE: Final = 10
WORK_LIMIT: Final = 4.0


class Programme:
    """One way of each decision, and what the ways bring; barriers are added by the caller.

    Parameters
    ----------
    choice : all there is to choose
    """

    def __init__(self, choice: VehicleChoice) -> None:
        self.choice, self.model = choice, cp_model.CpModel()
        self.taken: dict[str, Any] = {}
        for choosing in choice.choosings:
            for way in choosing.ways:
                self.taken[way.option] = self.model.new_bool_var(way.option)
            self.model.add_exactly_one(self.taken[way.option] for way in choosing.ways)
        brought = self._brought()
        items = choice.items
        self.cost = sum(round(items[key].cost) * has for key, has in brought.items())
        self.hours = sum(round(HOURS_SCALE * items[key].hours) * has for key, has in brought.items())
        self.value = sum(
            round(VALUE_SCALE * way.value) * self.taken[way.option] for way in choice.ways.values() if way.value
        )
        # more than two of these sums can move together
        self.reach = sum(round(abs(item.cost)) + round(HOURS_SCALE * abs(item.hours)) for item in items.values()) + sum(
            round(VALUE_SCALE * abs(way.value)) for way in choice.ways.values()
        )

    def _brought(self) -> dict[str, Any]:
        """Whether an item is brought: an option's own variable where no other option brings it."""
        bringing: dict[str, list[str]] = {}
        for way in self.choice.ways.values():
            for key in dict.fromkeys(way.items):
                bringing.setdefault(key, []).append(way.option)
        found: dict[str, Any] = {}
        for key, options in bringing.items():
            if len(options) == 1:
                found[key] = self.taken[options[0]]
            else:
                found[key] = self.model.new_bool_var(f"item {key}")
                self.model.add_max_equality(found[key], [self.taken[option] for option in options])
        return found

    def keep(self, barriers: Iterable[Barrier]) -> None:
        """Allow nothing that a barrier stands against."""
        for barrier in barriers:
            self.model.add_bool_or(self.clause(barrier))

    def clause(self, barrier: Barrier) -> list[Any]:
        """Of these at least one holds if the barrier does not stand against the choice."""
        missing = [self.taken[option].negated() for option in sorted(barrier.takes)]
        return missing + [self.taken[option] for option in sorted(barrier.without)]

    def take(self, options: Collection[str]) -> None:
        """Take some options."""
        for option in options:
            self.model.add(self.taken[option] == 1)

    def solve(self) -> tuple[frozenset[str], bool] | None:
        """The best choice and whether that is proven; None if there is none."""
        solver = solver_of()
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        taken = frozenset(option for option, has in self.taken.items() if solver.value(has))
        return taken, status == cp_model.OPTIMAL


def solver_of() -> cp_model.CpSolver:
    """A solver that gives the same answer every time on one machine."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = WORK_LIMIT
    # sums of figures are proven sooner by their linear relaxation
    solver.parameters.linearization_level = 2
    return solver
