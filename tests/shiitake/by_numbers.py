"""Rules called with the numbers in use, where many tests ask for the same ones."""

from __future__ import annotations

from typing import Any

from fruitcast.numbers import Numbers
from fruitcast.shiitake.learning import Learned, learn


def learn_from(
    quantity: str, observed: Any, expected: Any, confirmed: Any, numbers: Numbers
) -> Learned:
    """Learn the 'yield' or the 'lead time' as the forecast does."""
    lead = quantity == "lead time"
    learning = numbers.learning
    return learn(
        observed,
        expected,
        confirmed,
        scatter=numbers.forced.lead_scatter if lead else numbers.yields.scatter,
        prior_flushes=learning.lead_prior_flushes if lead else learning.prior_flushes,
        question_at=learning.question_at,
    )
