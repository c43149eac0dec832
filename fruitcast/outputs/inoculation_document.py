"""A batch or a programme of inoculations as one document, SI units in the keys."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from fruitcast.diary.plan import LikelyDays, YoungCare
from fruitcast.forecast.past_seasons import DayRange, season_grid_start
from fruitcast.forecast.typical_seasons import ECHOES
from fruitcast.inoculation.batch import BatchPlan
from fruitcast.inoculation.costs import (
    kind_cost,
    kind_materials,
    life_sold_kg,
    money_by_year,
    soaks_in_life,
)
from fruitcast.inoculation.materials import WAXLESS, Materials, holes_by_area
from fruitcast.inoculation.programme import (
    REFERENCE_CLASS,
    LogsPerPound,
    Programme,
    logs_per_pound,
    season_shape,
    season_summaries,
)
from fruitcast.numbers import Numbers
from fruitcast.outputs.cautions import growing_cautions, inoculation_cautions
from fruitcast.outputs.inoculation_answers import (
    BatchAnswer,
    BatchDates,
    BatchMaterials,
    BatchWeight,
    BatchYield,
    CauseOfLogs,
    CropOfYear,
    FromTo,
    Holes,
    Inoculation,
    KindMoney,
    Leaving,
    LogsForAPound,
    Money,
    MoneyOfYear,
    ProgrammeAnswer,
    Season,
    SettledWeek,
    WantedFor,
    WateringsOfMonth,
)
from fruitcast.soaks.sale_days import break_even_kg, mean_price
from fruitcast.topics import InoculationNumbers, ReportedNumbers, Tool, WorkNumbers

_LEAST_LOGS, _LEAST_KG = 0.5, 0.01  # soaked or picked in a week: worth a line


def batch_document(
    plan: BatchPlan,
    reported: ReportedNumbers,
    *,
    along: float,
    today: date,
    care: Sequence[YoungCare],
    drawing: str | None,
    warnings: Sequence[str],
) -> BatchAnswer:
    """Return a batch as a document.

    `along` is the usual distance of holes along a row [m], `drawing` the file with the drawing of
    its holes.
    """
    spec, pattern = plan.spec, plan.pattern
    chosen = along if spec.along is None else spec.along
    usual = holes_by_area(spec.diameter, spec.length, chosen, pattern.row_distance)
    return BatchAnswer(
        stack=spec.name,
        strain_class=spec.strain_class,
        strain=spec.strain,
        tree=spec.tree,
        logs=spec.logs,
        diameter_m=spec.diameter,
        length_m=spec.length,
        spawn=spec.spawn,
        tool=spec.tool,
        note=spec.note,
        holes=Holes(
            per_log=pattern.holes,
            rows=pattern.rows,
            by_row=tuple(pattern.holes_by_row),
            rows_by_length_over_spacing=float(usual),
            spacing_m=pattern.spacing,
            row_distance_m=pattern.row_distance,
            end_distance_m=pattern.end_distance,
            seam_breaks_stagger=pattern.seam_breaks_stagger,
            bit_m=plan.materials.bit,
            depth_m=plan.materials.depth,
        ),
        materials=_materials(plan.materials),
        weight=BatchWeight(
            log_kg=plan.log_weight, batch_kg=plan.weight, dry_wood_kg=plan.dry_weight
        ),
        calendar=BatchDates(
            fell=_span(plan.felling),
            inoculate=_span(plan.window),
            inoculate_on=plan.inoculated,
            thawed=_range(plan.trees.thawed),
            last_frost=_range(plan.trees.last_frost),
            leaf_out=_range(plan.trees.leaf_out),
            leaf_fall=_range(plan.trees.leaf_fall),
            turn_on=tuple(plan.turning),
            waterings=tuple(
                WateringsOfMonth(month=month, expected=times)
                for month, times in plan.waterings.items()
            ),
            ready=_range(plan.ready),
            first_soak_from=plan.earliest_soak,
            first_natural=_range(plan.first_natural),
            retire_after=plan.retire,
        ),
        gives=BatchYield(
            years=tuple(
                CropOfYear(
                    year=crop.season,
                    p10_kg_per_log=crop.low,
                    mean_kg_per_log=crop.mean,
                    p90_kg_per_log=crop.high,
                    mean_kg=crop.mean * spec.logs,
                )
                for crop in plan.crops
            ),
            life_kg_per_log=plan.life_kg,
            life_kg=plan.life_kg * spec.logs,
            share_of_fresh_wood=plan.fresh_share,
            share_of_dry_wood=plan.dry_share,
            best_practice_share_of_fresh_wood=(reported.best_low, reported.best_high),
            trial_share_of_dry_wood=(0.0, reported.trial_high),
        ),
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
    per_pound = logs_per_pound(
        programme, numbers.reported, flush=numbers.strain(REFERENCE_CLASS).yields.base
    )
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
        seasons=tuple(
            Season(
                year=summary.season,
                inoculated_logs=summary.inoculated,
                bearing_logs=summary.bearing,
                spawn_run_logs=summary.idle,
                leaving_logs=summary.leaving,
                target_kg=summary.target,
                picked_kg=summary.picked,
                sold_kg=summary.sold,
                sold_p10_kg=summary.sold_low,
                sold_p90_kg=summary.sold_high,
                chance=summary.chance,
            )
            for summary in season_summaries(programme)
        ),
        leaving=tuple(
            Leaving(
                stack=stack.name,
                logs=stack.logs,
                last_year=programme.climate.now + stack.years[-1].season,
            )
            for stack in programme.standing
        ),
        settled_year=_shape(programme),
        logs_per_pound=None if per_pound is None else _per_pound(per_pound),
        doubt_logs=programme.doubt_logs,
        money=_money(programme, tool, numbers.work, numbers.inoculation),
        gap=programme.gap,
        weather_years=len(programme.climate.seasons.years) // ECHOES,
        warnings=(*programme.warnings, *warnings),
        cautions=(*working, *growing),
    )


def _materials(materials: Materials) -> BatchMaterials:
    return BatchMaterials.taken_from(
        materials, sawdust_kg=materials.sawdust, wax_kg=materials.wax, floor_m2=materials.floor
    )


def _inoculations(
    programme: Programme, tool: Tool, inoculation: InoculationNumbers
) -> tuple[Inoculation, ...]:
    found = []
    for year in range(programme.years):
        season = programme.climate.now + programme.first_born + year
        for place, kind in enumerate(programme.kinds):
            logs = int(programme.logs[year, place])
            if not logs:
                continue
            bears = programme.kind_years[place]
            found.append(
                Inoculation(
                    year=season,
                    strain_class=kind.strain_class,
                    tree=kind.tree,
                    diameter_m=kind.diameter,
                    length_m=kind.length,
                    spawn=kind.spawn,
                    logs=logs,
                    bears_from=season + bears[0].season,
                    bears_to=season + bears[-1].season,
                    **_materials(kind_materials(kind, logs, tool, inoculation)).model_dump(),
                )
            )
    return tuple(found)


def _shape(programme: Programme) -> tuple[SettledWeek, ...]:
    """What each class does in each week of the settled season, dated in this one."""
    begins = season_grid_start(programme.climate.now, programme.climate.where)
    return tuple(
        SettledWeek(
            week=begins + timedelta(weeks=entry.week),
            strain_class=entry.strain_class,
            soaked_logs=entry.soaked,
            picked_kg=entry.picked,
        )
        for entry in season_shape(programme)
        if entry.soaked >= _LEAST_LOGS or entry.picked >= _LEAST_KG
    )


def _per_pound(found: LogsPerPound) -> LogsForAPound:
    return LogsForAPound(
        logs=found.logs,
        weekly_kg=found.weekly_kg,
        logs_per_lb_a_week=found.ours,
        rule_of_thumb=found.thumb_range,
        whole_farms=found.farm_range,
        rule_of_thumb_with_our_flush=found.thumb,
        causes=tuple(CauseOfLogs(cause=cause.name, factor=cause.factor) for cause in found.causes),
    )


def _money(
    programme: Programme, tool: Tool, work: WorkNumbers, inoculation: InoculationNumbers
) -> Money | None:
    """What the logs cost and earn; None when the grower entered no prices."""
    yard = programme.yard
    costs, price = yard.costs, mean_price(programme.outlets)
    every = (costs.log, costs.plug, costs.thimble, costs.sawdust, costs.wax, costs.wage)
    if all(value is None for value in every):
        return None
    soaks = soaks_in_life(programme)
    sold = life_sold_kg(programme)
    found = [
        kind_cost(kind, soaks[n], yard, tool, work, inoculation)
        for n, kind in enumerate(programme.kinds)
    ]
    kinds = []
    for place, (kind, cost) in enumerate(zip(programme.kinds, found, strict=True)):
        if not programme.logs[:, place].any():
            continue
        kinds.append(
            KindMoney.taken_from(
                cost,
                strain_class=kind.strain_class,
                tree=kind.tree,
                life_sold_kg=sold[place],
                break_even_kg=None if price is None else break_even_kg(cost.life, price, costs),
                left_out=tuple(cost.missing),
            )
        )
    years = (
        ()
        if price is None
        else money_by_year(programme, tuple(cost.start for cost in found), price, costs, work)
    )
    return Money(
        price_per_kg=price,
        kinds=tuple(kinds),
        years=tuple(
            MoneyOfYear(
                year=programme.climate.now + year.season,
                income=year.income,
                spent=year.spent,
                margin_p10=year.low,
                margin=year.margin,
                margin_p90=year.high,
                margin_per_kg=year.per_kg,
            )
            for year in years
        ),
    )


def _span(days: tuple[date, date] | None) -> FromTo | None:
    return None if days is None else FromTo(first=days[0], last=days[1])


def _range(days: DayRange) -> LikelyDays:
    early, middle, late = days
    return LikelyDays(p10=early, p50=middle, p90=late)
