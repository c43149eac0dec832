"""A batch or a programme of inoculations as one document, SI units in the keys."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fruitcast.diary.plan import YoungCare
from fruitcast.forecast.typical_seasons import ECHOES
from fruitcast.inoculation.answers import (
    BatchAnswer,
    BatchDates,
    FromTo,
    Holes,
    Inoculation,
    Leaving,
    ProgrammeAnswer,
    WantedFor,
    WateringsOfMonth,
)
from fruitcast.inoculation.batch import BatchPlan
from fruitcast.inoculation.costs import kind_materials, programme_money
from fruitcast.inoculation.materials import WAXLESS, holes_by_area
from fruitcast.inoculation.programme import (
    REFERENCE_CLASS,
    Programme,
    logs_per_pound,
    season_shape,
    season_summaries,
)
from fruitcast.numbers import Numbers
from fruitcast.outputs.cautions import growing_cautions, inoculation_cautions
from fruitcast.topics import InoculationNumbers, Tool


def batch_document(
    plan: BatchPlan,
    inoculation: InoculationNumbers,
    *,
    today: date,
    care: Sequence[YoungCare],
    drawing: str | None,
    warnings: Sequence[str],
) -> BatchAnswer:
    """Return a batch as a document; `drawing` is the file with the drawing of its holes."""
    spec, pattern = plan.spec, plan.pattern
    along = inoculation.along if spec.along is None else spec.along
    usual = holes_by_area(spec.diameter, spec.length, along, pattern.row_distance)
    bit, depth = inoculation.hole(spec.spawn)
    return BatchAnswer.taken_from(
        spec,
        stack=spec.name,
        diameter_m=spec.diameter,
        length_m=spec.length,
        holes=Holes(
            per_log=pattern.holes,
            rows=pattern.rows,
            by_row=tuple(pattern.holes_by_row),
            rows_by_length_over_spacing=float(usual),
            spacing_m=pattern.spacing,
            row_distance_m=pattern.row_distance,
            end_distance_m=pattern.end_distance,
            seam_breaks_stagger=pattern.seam_breaks_stagger,
            bit_m=bit,
            depth_m=depth,
        ),
        materials=plan.materials,
        weight=plan.weight,
        calendar=BatchDates(
            fell=_span(plan.felling),
            inoculate=_span(plan.window),
            inoculate_on=plan.inoculated,
            thawed=plan.trees.thawed,
            last_frost=plan.trees.last_frost,
            leaf_out=plan.trees.leaf_out,
            leaf_fall=plan.trees.leaf_fall,
            turn_on=tuple(plan.turning),
            waterings=tuple(
                WateringsOfMonth(month=month, expected=times)
                for month, times in plan.waterings.items()
            ),
            ready=plan.ready,
            first_soak_from=plan.earliest_soak,
            first_natural=plan.first_natural,
            retire_after=plan.retire,
        ),
        gives=plan.gives,
        cautions=tuple(inoculation_cautions(spec.tool, waxed=spec.spawn != WAXLESS)),
        today=today,
        care=tuple(care),
        accepted=None,
        drawing=drawing,
        warnings=tuple(warnings),
    )


def programme_document(
    programme: Programme, tool: Tool, warnings: Sequence[str], numbers: Numbers
) -> ProgrammeAnswer:
    """Return a programme as a document.

    `warnings` come besides the programme's own.
    """
    waxed = any(kind.spawn != WAXLESS for kind in programme.kinds)
    growing = growing_cautions()
    working = [c for c in inoculation_cautions(tool, waxed=waxed) if c not in growing]
    return ProgrammeAnswer(
        today=programme.today,
        years=programme.years,
        wished_chance=programme.wished,
        chance=programme.chance,
        reached=programme.reached,
        outlets=tuple(
            WantedFor(outlet=outlet.name, target_kg=outlet.target_kg)
            for outlet in programme.outlets
        ),
        inoculate_on=programme.climate.inoculated,
        inoculate=_inoculations(programme, tool, numbers.inoculation),
        seasons=season_summaries(programme),
        leaving=tuple(
            Leaving(
                stack=stack.name,
                logs=stack.logs,
                last_year=programme.climate.now + stack.years[-1].season,
            )
            for stack in programme.standing
        ),
        settled_year=season_shape(programme),
        logs_per_pound=logs_per_pound(
            programme, numbers.reported, flush=numbers.strain(REFERENCE_CLASS).yields.base
        ),
        doubt_logs=programme.doubt_logs,
        money=programme_money(programme, tool, numbers.work, numbers.inoculation),
        gap=programme.gap,
        weather_years=len(programme.climate.seasons.years) // ECHOES,
        warnings=(*programme.warnings, *warnings),
        cautions=(*working, *growing),
    )


def _inoculations(
    programme: Programme, tool: Tool, inoculation: InoculationNumbers
) -> tuple[Inoculation, ...]:
    found = []
    for year in range(programme.years):
        season = programme.climate.now + programme.first_born + year
        inoculated = programme.climate.inoculated.year + year
        for place, kind in enumerate(programme.kinds):
            logs = int(programme.logs[year, place])
            if not logs:
                continue
            bears = programme.kind_years[place]
            found.append(
                Inoculation(
                    year=inoculated,
                    strain_class=kind.strain_class,
                    tree=kind.tree,
                    diameter_m=kind.diameter,
                    length_m=kind.length,
                    spawn=kind.spawn,
                    logs=logs,
                    bears_from=season + bears[0].season,
                    bears_to=season + bears[-1].season,
                    **kind_materials(kind, logs, tool, inoculation).model_dump(),
                )
            )
    return tuple(found)


def _span(days: tuple[date, date] | None) -> FromTo | None:
    return None if days is None else FromTo(first=days[0], last=days[1])
