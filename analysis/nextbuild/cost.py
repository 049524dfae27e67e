"""What a part costs to print: its material, its time on the printer, its time at the bench."""

import math
from dataclasses import dataclass


class CostRefused(ValueError):
    """A figure that can't be a cost; the message says which and what to give."""


@dataclass(frozen=True)
class Cost:
    """Parts of the cost in the log's own currency; None where a figure is not known."""

    material: float | None
    printer: float | None
    bench: float | None

    @property
    def known(self) -> float:
        """The sum of what is known."""
        return sum(part for part in (self.material, self.printer, self.bench) if part is not None)

    @property
    def is_whole(self) -> bool:
        """Whether every part of it is known; otherwise `known` is a lower bound."""
        return None not in (self.material, self.printer, self.bench)


def part_cost(
    mass_g: float | None,
    price_per_kg: float | None,
    printing_h: float | None = None,
    printer_per_h: float | None = None,
    bench_h: float | None = None,
    bench_per_h: float | None = None,
    copies: int = 1,
) -> Cost:
    """Cost of `copies` builds; each product is None where one of its figures is.

    Raises CostRefused for a negative figure, or for one that is no number.
    """
    given = {
        "mass": mass_g,
        "price": price_per_kg,
        "printing time": printing_h,
        "price of the printer's hour": printer_per_h,
        "bench time": bench_h,
        "price of the bench hour": bench_per_h,
    }
    for name, value in given.items():
        if value is not None and not (math.isfinite(value) and value >= 0):
            raise CostRefused(f"The {name} must be 0 or more, not {value:g}.")
    if copies < 1:
        raise CostRefused(f"At least one copy is built, not {copies}.")
    return Cost(
        _product(mass_g, price_per_kg, copies / 1000),
        _product(printing_h, printer_per_h, copies),
        _product(bench_h, bench_per_h, copies),
    )


def _product(amount: float | None, price: float | None, times: float) -> float | None:
    return None if amount is None or price is None else amount * price * times
