"""Dilution arithmetic: how strong a mixture is, and what to measure for a wanted strength.

A bare ratio such as 1:10 is never an input, because it is read both as one part in ten parts
altogether and as one part and ten parts of water. Parts of stock and parts of water are kept
apart, and each reading has a constructor of its own. Volumes are taken to add up.

The label of the product says how it is mixed; this only does the sums.

Source: C1 V1 = C2 V2. Both readings of 1:10 are in print, and so are recipes that say "make up to
one litre" and "add to one litre" for the same amount; `tests/published` names where.
"""

from dataclasses import dataclass
from fractions import Fraction

from reprocess.quantities.exact import Exact, exactly, require

MG_PER_L_PER_PERCENT = 10_000
"""1 % mass by volume is 1 g in 100 mL, which is 10 000 mg in a litre."""

PERCENT_PER_DEGREE_CHLORUM = Fraction(3, 10)
"""One degree chlorum is about 0.3 % active chlorine: CDC, Best Practices for Environmental Cleaning in
Global Healthcare Facilities with Limited Resources, Appendix E, footnote."""

_PERCENT_WHOLE = 100
_MG_PER_G = 1_000


@dataclass(frozen=True, slots=True, order=True)
class Strength:
    """Mass of active ingredient in a volume of solution, in mg/L (ppm mass by volume)."""

    mg_per_l: Fraction

    def __post_init__(self) -> None:
        require("A strength cannot be less than zero.", holds=self.mg_per_l >= 0)

    @property
    def percent(self) -> Fraction:
        """Returns the same strength in percent mass by volume (g in 100 mL)."""
        return self.mg_per_l / MG_PER_L_PER_PERCENT


def percent(value: Exact) -> Strength:
    """Returns the strength of so many percent mass by volume (g in 100 mL)."""
    return Strength(exactly(value) * MG_PER_L_PER_PERCENT)


def ppm(value: Exact) -> Strength:
    """Returns the strength of so many parts per million mass by volume (mg/L)."""
    return Strength(exactly(value))


def degrees_chlorum(value: Exact) -> Strength:
    """Returns the strength of bleach marked with so many degrees chlorum, as active chlorine."""
    return percent(exactly(value) * PERCENT_PER_DEGREE_CHLORUM)


@dataclass(frozen=True, slots=True)
class Parts:
    """Parts of stock and parts of water by volume, both in the same unit, whichever it is."""

    stock: Fraction
    water: Fraction

    def __post_init__(self) -> None:
        require("A mixture needs some stock.", holds=self.stock > 0)
        require("A mixture cannot hold less than no water.", holds=self.water >= 0)

    @property
    def total(self) -> Fraction:
        """Returns the parts altogether."""
        return self.stock + self.water


def added_to(stock: Exact, water: Exact) -> Parts:
    """Returns the mixture of this much stock added to this much water."""
    return Parts(exactly(stock), exactly(water))


def made_up_to(stock: Exact, total: Exact) -> Parts:
    """Returns the mixture of this much stock, filled up with water to this much altogether."""
    return Parts(exactly(stock), exactly(total) - exactly(stock))


def one_plus(water: Exact) -> Parts:
    """Returns "1 plus n": one part of stock and n parts of water."""
    return added_to(1, water)


def one_in(total: Exact) -> Parts:
    """Returns "1 in n": one part of stock in n parts altogether; n is at least 1."""
    return made_up_to(1, total)


@dataclass(frozen=True, slots=True)
class Volumes:
    """What to measure, in mL, before anything is mixed."""

    stock_ml: Fraction
    water_ml: Fraction


@dataclass(frozen=True, slots=True)
class CannotMix:
    """The answer to a wish that no dilution fulfils; `reason` is one sentence for the operator."""

    reason: str


def mixed(stock: Strength, parts: Parts) -> Strength:
    """Returns the strength after stock of this strength is diluted in these parts."""
    return Strength(stock.mg_per_l * parts.stock / parts.total)


def parts_for(stock: Strength, wanted: Strength) -> Parts | CannotMix:
    """Returns the parts of water to one part of stock that give the wanted strength."""
    if wanted.mg_per_l == 0:
        return CannotMix("Name the strength you want; it must be more than zero.")
    if wanted > stock:
        return CannotMix("The stock is weaker than the strength you want; take a stronger stock.")
    return one_in(stock.mg_per_l / wanted.mg_per_l)


def volumes_for(stock: Strength, wanted: Strength, total_ml: Exact) -> Volumes | CannotMix:
    """Returns the volumes of stock and water that make `total_ml` of the wanted strength."""
    if exactly(total_ml) <= 0:
        return CannotMix("Name the volume you want; it must be more than zero.")
    parts = parts_for(stock, wanted)
    if isinstance(parts, CannotMix):
        return parts
    stock_ml = exactly(total_ml) * parts.stock / parts.total
    return Volumes(stock_ml=stock_ml, water_ml=exactly(total_ml) - stock_ml)


def powder_g_per_l(active_percent: Exact, wanted: Strength) -> Fraction:
    """Returns the grams of powder in each litre of finished solution.

    `active_percent` is mass of active ingredient by mass of powder, above 0 and at most 100.
    """
    return wanted.mg_per_l / _MG_PER_G / _active_fraction(active_percent)


def powder_made_up(active_percent: Exact, powder_g: Exact, total_l: Exact) -> Strength:
    """Returns the strength of a powder dissolved and filled up to `total_l` litres altogether.

    `active_percent` is mass of active ingredient by mass of powder, above 0 and at most 100.
    """
    require("A solution needs a volume above zero.", holds=exactly(total_l) > 0)
    active_g = exactly(powder_g) * _active_fraction(active_percent)
    return Strength(active_g * _MG_PER_G / exactly(total_l))


def _active_fraction(active_percent: Exact) -> Fraction:
    share = exactly(active_percent) / _PERCENT_WHOLE
    require("A powder's active share is above 0 % and at most 100 %.", holds=0 < share <= 1)
    return share
