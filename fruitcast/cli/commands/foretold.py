"""fruitcast foretold."""

from __future__ import annotations

from fruitcast.cli.root import app, command
from fruitcast.cli.session import Session


@command(
    app,
    "foretold",
    examples=("fruitcast foretold", "fruitcast foretold --json"),
    prints=("fruitcast.forecast.outcome_scores:Foretelling",),
)
def foretold(session: Session) -> None:
    """Show how well it was foretold: first picks, weights, promises, by how long before."""
    from fruitcast.app.foretold import how_well_foretold
    from fruitcast.outputs.evidence_words import foretold_table

    found, units = how_well_foretold(session.yard, session.today)
    session.answer(found, lambda: foretold_table(found, units))
