"""The standing of a wearer: a pseudonym, and until when it may be issued what; folded from the wearer's stream."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Wearer:
    """Is what is known of a wearer beside the name: a unit, and how long training, clearance and fit tests count.

    Attributes:
        wearer: the pseudonym.
        cleared: the latest answer of occupational health; nothing else of it is ever kept.
        cleared_until_us: when that ends, or None where it has no end.
        fits: the models that fit, each with the instant until which its test counts, or None where it has no end.
        left_us: when the wearer left.
        erased_us: when the name was erased.
    """

    wearer: str
    unit: str = ""
    site: str = ""
    trained_until_us: int | None = None
    cleared: bool = False
    cleared_until_us: int | None = None
    fits: dict[str, int | None] = field(default_factory=dict)
    active: bool = False
    registered_us: int = 0
    left_us: int | None = None
    erased_us: int | None = None
    number: int = 0

    @property
    def known(self) -> bool:
        """Tells whether the wearer was ever registered."""
        return self.registered_us > 0

    def is_trained(self, at_us: int) -> bool:
        """Tells whether the training counts at that instant."""
        return self.trained_until_us is not None and at_us < self.trained_until_us

    def is_cleared(self, at_us: int) -> bool:
        """Tells whether the wearer may wear a respirator at that instant."""
        return self.cleared and (self.cleared_until_us is None or at_us < self.cleared_until_us)

    def has_fit(self, model: str, at_us: int) -> bool:
        """Tells whether a fit test of that model counts at that instant."""
        until_us = self.fits.get(model, 0)
        return until_us is None or at_us < until_us


def apply(wearer: Wearer, entry: Entry) -> Wearer:
    """Returns the wearer after one more entry of the stream."""
    body = entry.body
    after = replace(wearer, wearer=subject_of(entry.stream), number=entry.number)
    match body:
        case words.WearerRegistered():
            since_us = wearer.registered_us or entry.at_us
            return replace(
                after, unit=body.unit, site=body.site, active=True, registered_us=since_us, left_us=None, erased_us=None
            )
        case words.WearerTrained():
            return replace(after, trained_until_us=body.until_us)
        case words.WearerCleared():
            return replace(after, cleared=body.cleared, cleared_until_us=body.until_us)
        case words.WearerFitTested():
            return replace(after, fits=_fits(wearer, body))
        case words.WearerLeft():
            return replace(after, active=False, left_us=entry.at_us)
        case words.WearerErased():
            left_us = wearer.left_us if wearer.left_us is not None else entry.at_us
            return replace(after, active=False, left_us=left_us, erased_us=entry.at_us)
        case _:
            return after


def _fits(wearer: Wearer, body: words.WearerFitTested) -> dict[str, int | None]:
    others = {model: until_us for model, until_us in wearer.fits.items() if model != body.model}
    return {**others, body.model: body.until_us} if body.fits else others
