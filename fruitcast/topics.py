"""The names of the numbers in `numbers.toml`, by topic, strain class and tree species.

A rule takes single numbers or the class of its topic from here, so that its signature says
what it uses. What each number means, its unit and its source stand in `numbers.toml` alone. Every
command loads these classes: as named tuples they are made four times as fast as dataclasses.
"""

from collections.abc import Mapping
from typing import Literal, NamedTuple, get_args

StrainClass = Literal["cold-weather", "wide-range", "warm-weather"]
SpawnForm = Literal["plug", "thimble", "sawdust"]
Tool = Literal["drill", "grinder"]

STRAIN_CLASSES: tuple[StrainClass, ...] = get_args(StrainClass)
SPAWN_FORMS: tuple[SpawnForm, ...] = get_args(SpawnForm)
TOOLS: tuple[Tool, ...] = get_args(Tool)

OTHER_TREE = "other hardwood"
"""The species whose numbers stand for any without its own."""

STAND_INS: Mapping[str, str] = {
    tree: own
    for own, trees in {
        "white oak": ("english oak", "pedunculate oak", "sessile oak", "european oak", "bur oak"),
        "red oak": ("northern red oak", "southern red oak", "black oak", "pin oak", "scarlet oak"),
        "oak": ("turkey oak", "downy oak", "holm oak", "sawtooth oak", "konara oak"),
        "beech": ("european beech", "common beech", "american beech", "copper beech"),
        "hornbeam": ("european hornbeam", "common hornbeam", "american hornbeam", "musclewood"),
        "chestnut": ("sweet chestnut", "spanish chestnut", "european chestnut"),
        "alder": ("common alder", "black alder", "grey alder", "gray alder", "red alder"),
        "birch": ("silver birch", "downy birch", "white birch", "paper birch", "common birch"),
        "hazel": ("common hazel", "european hazel", "hazelnut"),
        "ash": ("european ash", "common ash", "white ash"),
        "willow": ("white willow", "crack willow", "goat willow", "sallow"),
        "sycamore": ("sycamore maple",),
        "sugar maple": ("hard maple", "field maple", "norway maple"),
        "red maple": ("soft maple", "silver maple"),
    }.items()
    for tree in trees
}
"""Species that go by the values of one near to them in wood. Judgement: of one genus, and among
the maples by how hard their wood is."""


class WorkNumbers(NamedTuple):
    """What a soak takes of a grower's day."""

    soak_hours_per_log: float
    pull_hours_per_log: float
    lot_hours: float
    look_hours_per_log: float
    pick_hours_per_kg: float

    @property
    def tank_hours_per_log(self) -> float:
        """Of putting a log into the tank and taking it out. [h/log]"""
        return self.soak_hours_per_log + self.pull_hours_per_log


class YardNumbers(NamedTuple):
    """What a yard's settings say unless its own file says otherwise."""

    shade: float
    keep_above: float
    cold_store_days: float
    saleable: float
    promise: float


class MyceliumNumbers(NamedTuple):
    """The temperatures at which mycelium grows, and how a log follows the air."""

    base_temperature: float
    optimum_temperature: float
    maximum_temperature: float
    shade_cooling: float
    log_lag: float


class SpawnRunNumbers(NamedTuple):
    """The spawn run of any strain class."""

    requirement: float
    thimble: float
    sawdust: float
    per_diameter: float
    thick_from: float
    per_diameter_thick: float
    moisture_full: float
    white_ends_share: float
    moulds_factor: float
    weather_days: float
    scatter: float
    slow_share: float
    least_days: float

    def of_form(self, spawn: str) -> float:
        """Return the factor of a form of spawn: plugs are the measure."""
        return {"plug": 1.0, "thimble": self.thimble, "sawdust": self.sawdust}[spawn]


class ForcedNumbers(NamedTuple):
    """Soaks and the flushes they force, of any strain class."""

    first_after_days: float
    longest_days: float
    pins_share: float
    hot_from: float
    cool_below: float
    overnight_hours: float
    usual_hours: float
    cool_hours: float
    season_days: float
    heat_loss: float
    frost_loss: float


class NaturalNumbers(NamedTuple):
    """Flushes that the weather sets off, of any strain class."""

    wet_days: float
    rain: float
    before_days: float
    dry_rain: float
    spell_days: float
    requirement_factor: float
    longest_days: float
    rest_days: float
    soak_rest_days: float
    shortest_flush: float
    longest_flush: float
    last_pick_days: float
    summer_from: float
    autumn_from: float
    sure_chance: float


class PickingNumbers(NamedTuple):
    """A flush day by day: how long, how warm, how wet."""

    shortest_flush: float
    longest_flush: float
    warm: float
    cool: float
    peak: float
    basket_spread: float
    stray_share: float
    near_days: float
    seen_least: float
    pin_kg: float
    twice_from: float
    rain_from: float
    rain_full: float
    rain_loss: float
    open_chance: float
    hot_chance: float


class YieldsNumbers(NamedTuple):
    """What a log gives, of any strain class."""

    rest_none: float
    rest_reference: float
    rest_time: float
    range_margin: float
    natural_factor: float
    life_diameter: float
    share_1: float
    share_2: float
    share_3: float
    share_4: float
    past_life_factor: float
    late_ready_days: float
    flushes_a_year: float
    usual_share: float
    wear_least: float
    most_a_flush: float
    retire_below: float


class LearningNumbers(NamedTuple):
    """How the yard's own flushes are weighed against the table."""

    question_at: float
    crate_spread: float


class SpreadNumbers(NamedTuple):
    """How far yields and lead times lie from the table for causes that weather doesn't tell."""

    yield_yard: float
    yield_class_tree: float
    yield_stack: float
    yield_season: float
    yield_flush: float
    lead_yard: float
    lead_class: float
    lead_flush: float
    fails: float
    fails_soaks: float


class DiaryNumbers(NamedTuple):
    """How entries of the diary are read, and what of them is unlikely."""

    forced_pick_days: float
    flush_days: float
    record_delay_days: float
    old_days: float
    first_bearing_days: float
    stale_pins_days: float
    forgotten_pull_days: float
    usual_watering: float
    rebase_days: float
    odd_pick: float
    fewest_picks: float
    saleable_worth: float
    weighing_slack: float
    odd_price: float
    impossible_yield: float
    unlikely_moisture: float
    short_soak: float
    unlikely_soak: float
    impossible_soak: float
    unlikely_rain: float
    impossible_rain: float


class CareNumbers(NamedTuple):
    """When to look after stacks."""

    inspect_days: float
    asked_after_days: float
    diary_early_days: float


class LogNumbers(NamedTuple):
    """Sizes of logs, and what shade they lie in."""

    shade_effect: float
    least_diameter: float
    most_diameter: float
    least_length: float
    most_length: float

    def usual(self, what: str) -> tuple[float, float]:
        """Return the least and most 'diameter' or 'length' that nobody asks about. [m]"""
        return {
            "diameter": (self.least_diameter, self.most_diameter),
            "length": (self.least_length, self.most_length),
        }[what]


class MoistureNumbers(NamedTuple):
    """How logs dry, take up water and die."""

    dead_below: float
    danger_below: float
    evidence_days: float
    settled: float
    drying_days: float
    drying_diameter_exponent: float
    drying_still_share: float
    rain_uptake_share: float
    soak_uptake: float


class WateringNumbers(NamedTuple):
    """When to water, how much, and what sample logs tell."""

    urgent_below: float
    dry_days: float
    warm_above: float
    rain_day: float
    amount: float
    gap_days: float
    not_below: float
    sprinkler_rate: float
    weigh_days: float
    sample_log_loss: float


class ForecastNumbers(NamedTuple):
    """How wrong a forecast of the weather is; all 0: never, and it ends where it ends."""

    temperature_error: float = 0.0
    temperature_growth: float = 0.0
    rain_error: float = 0.0
    rain_growth: float = 0.0
    persistence: float = 0.0


class ScheduleNumbers(NamedTuple):
    """What makes one schedule better than another."""

    rest_days: float
    ready_chance: float
    clear_chance: float
    tail_days: float
    expired_price: float
    soak_price: float
    change_price: float
    lot_flush: float
    certainty_price: float
    bears_in: float
    promised_weight: float
    table_more: float
    table_more_weight: float
    weak_soak: float


class InoculationNumbers(NamedTuple):
    """What inoculating takes, and when in the year."""

    along: float
    between: float
    end_distance: float
    plug_bit: float
    plug_depth: float
    sawdust_bit: float
    sawdust_depth: float
    sawdust_density: float
    sawdust_spilt: float
    spare_spawn: float
    wax_per_hole: float
    wax_per_end_area: float
    drill_seconds: float
    grinder_seconds: float
    plug_seconds: float
    thimble_seconds: float
    sawdust_seconds: float
    wax_seconds: float
    handling_seconds: float
    stack_height: float
    stack_gap: float
    logs_a_tree: float
    fresh_days: float
    thawed_above: float
    thaw_days: float
    blind_days: float
    turn_days: float
    shortfall_price: float
    soak_price: float
    change_price: float

    def hole(self, spawn: str) -> tuple[float, float]:
        """Return drill bit and depth of the holes for a form of spawn. [m, m]"""
        return {
            "plug": (self.plug_bit, self.plug_depth),
            "thimble": (self.sawdust_bit, self.sawdust_depth),
            "sawdust": (self.sawdust_bit, self.sawdust_depth),
        }[spawn]

    def filling_seconds(self, spawn: str) -> float:
        """Return the work of filling one hole with a form of spawn. [s/hole]"""
        return {
            "plug": self.plug_seconds,
            "thimble": self.thimble_seconds,
            "sawdust": self.sawdust_seconds,
        }[spawn]

    def drilling_seconds(self, tool: Tool) -> float:
        """Return the work of drilling one hole. [s/hole]"""
        return {"drill": self.drill_seconds, "grinder": self.grinder_seconds}[tool]


class LeafNumbers(NamedTuple):
    """When leaves open and fall."""

    base_temperature: float
    out_requirement: float
    fall_below: float
    fall_days: float


class StandardLogNumbers(NamedTuple):
    """The logs of which a district's outlook speaks, beside those of this spring."""

    older_years: float
    wet_days: float
    wet_above: float


class ReportedNumbers(NamedTuple):
    """What growers report and trials found."""

    thumb_low: float
    thumb_high: float
    thumb_weeks: float
    farm_low: float
    farm_high: float
    best_low: float
    best_high: float
    trial_high: float


class WeatherDoubts(NamedTuple):
    """What weather can be, but more often is a wrong unit, date or place."""

    spreads: float
    memory: float
    off: float
    day_off: float
    coldest_fall: float
    coldest_summer: float
    warmest_winter: float
    warmest_summer: float
    daily_range: float
    least_daily_range: float
    span_times: float
    rain_times: float
    least_wet_day: float
    most_wet_day: float
    most_rain: float
    rain_of_record: float
    far: float


class DoubtNumbers(NamedTuple):
    """What is possible, but more often a slip."""

    past_life: float
    picked_within: float
    tankfuls: float
    most_flush: float
    holes: float
    ice_days: float
    ice_below: float
    class_margin: float
    class_flushes: float
    weather: WeatherDoubts


class StrainSpawnRun(NamedTuple):
    """The spawn run of one strain class, against the quickest."""

    factor: float = 1.0


class StrainRange(NamedTuple):
    """The temperatures in which one strain class fruits."""

    lower: float
    best_low: float
    best_high: float
    upper: float


class StrainForced(NamedTuple):
    """Soaks of one strain class; soaks may be refused in warmth."""

    base_temperature: float
    requirement: float
    heat_from: float
    frost_from: float
    refused_above: float | None = None


class StrainNatural(NamedTuple):
    """What sets one strain class off: nights between two limits, or rain and a `drop`."""

    lower: float
    upper: float
    night_lower: float | None = None
    night_upper: float | None = None
    drop: float | None = None

    @property
    def nights(self) -> tuple[float, float] | None:
        """The nights that a class set off by a spell of weather needs. [degC]"""
        if self.night_lower is None or self.night_upper is None:
            return None
        return self.night_lower, self.night_upper


class StrainYields(NamedTuple):
    """What one strain class gives."""

    base: float


class StrainNumbers(NamedTuple):
    """All that is known of one strain class."""

    spawn_run: StrainSpawnRun
    range: StrainRange
    forced: StrainForced
    natural: StrainNatural
    yields: StrainYields

    @property
    def cap_temperature(self) -> float:
        """More heat than that in which soaks are refused, or logs fruit, hastens nothing. [degC]"""
        refused = self.forced.refused_above
        return self.range.upper if refused is None else refused


class TreeNumbers(NamedTuple):
    """One tree species; what has no number of its own is as in `OTHER_TREE`."""

    specific_gravity: float
    density: float
    yield_factor: float
    starts: float
    life: float
