"""fruitcast hindcast and foretold: how good the plans would have been, and were."""

from __future__ import annotations

from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session, StoppedError


@command(
    app,
    "hindcast",
    examples=("fruitcast hindcast", "fruitcast hindcast --years 5 --weeks 12"),
    prints=("fruitcast.outputs.evidence_words:Hindcast",),
)
def hindcast(
    session: Session,
    years: Annotated[
        int, typer.Option(min=1, max=100, help="How many past years to hold out in turn.")
    ] = 20,
    weeks: Annotated[int, typer.Option(min=4, max=52, help="Length of the season.")] = 26,
    other_truths: Annotated[
        int,
        typer.Option(
            min=0,
            max=100,
            metavar="YEARS",
            help="Also live through so many years under truths that differ from the planner's "
            "numbers: lead time 15 % longer and shorter, yield 30 % lower, learning on and off.",
        ),
    ] = 0,
    forecast_days: Annotated[
        int,
        typer.Option(
            min=0,
            max=16,
            help="Days of weather ahead that a forecast tells, as wrong as forecasts are.",
        ),
    ] = 0,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the plans' random draws.")] = 1,
    processes: Annotated[
        int | None,
        typer.Option(min=1, show_default=False, help="Years at a time; else one a processor."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            show_default=False,
            help="Address of a dask scheduler, whose workers live through the years.",
        ),
    ] = None,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="Live through all years again, kept or not.")
    ] = False,
    offline: Offline = False,
) -> None:
    """Plan past years week by week as known then, beside simpler ways and foresight.

    It takes minutes, and may be stopped: started again it goes on from where it was.
    """
    from fruitcast.app.hindcast import HindcastParams
    from fruitcast.app.hindcast_years import Workers, hindcast_yard
    from fruitcast.outputs.evidence_words import hindcast_table

    with session.reckoning(offline) as how:
        try:
            document = hindcast_yard(
                *session.here,
                HindcastParams(weeks=weeks, seed=seed, forecast_days=forecast_days),
                years=years,
                other_truths=other_truths,
                fresh=fresh,
                workers=Workers(processes=processes, cluster=cluster),
                **how,
            )
        except KeyboardInterrupt:
            raise StoppedError(
                "Seasons lived through are kept: the same command, without --fresh, goes on."
            ) from None
    session.notes(document.warnings)
    session.answer(document, lambda: hindcast_table(document))


@command(
    app,
    "foretold",
    examples=("fruitcast foretold", "fruitcast foretold --json"),
    prints=("fruitcast.forecast.outcome_scores:Foretelling",),
)
def foretold(session: Session) -> None:
    """Show how well it was foretold: first picks, weights, promises, by how long before."""
    from fruitcast.app.publication import how_well_foretold
    from fruitcast.outputs.evidence_words import foretold_table

    found, units = how_well_foretold(*session.here)
    session.answer(found, lambda: foretold_table(found, units))
