"""What is built, of what, and by whom."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field

from sitepipe.settings.section import Length, Section, Share

CropName = Literal[
    "strawberries", "shallow vegetables", "blueberries", "deep vegetables", "berry bushes", "fruit trees"
]
FillName = Literal["native soil", "soil and compost", "woody core"]
CROPS: tuple[str, ...] = get_args(CropName)
FILLS: tuple[str, ...] = get_args(FillName)


class MoundSettings(Section):
    """Raised mounds: for what crops, of what, how sure, how laid out."""

    NOT_ABOVE = (("shortest", "longest"), ("air", "highest"))

    propose: bool = True
    """Whether any are proposed beside those that were drawn; so in each table."""
    crops: tuple[CropName, ...] = Field(default=("shallow vegetables", "berry bushes"), min_length=1)
    """Crop groups to raise ground for; the mounds nearest to gate and tap get the first."""
    fills: tuple[FillName, ...] = Field(default=("woody core", "soil and compost"), min_length=1)
    """Fills at hand, the dearest to you first; one that cannot drain is refused."""
    air: float = Field(default=0.10, ge=0.03, le=0.30)
    """Share of air that roots need: traditional; Cook & Knight (2003) find no universal value. [1]"""
    chance: float = Field(default=0.8, ge=0.5, le=0.99)
    """Chance of success that the height is made for. [1]"""
    top: Annotated[Length, Field(ge=0.1, le=1.2)] = 0.6
    """Width of the top, .5 to .8 m: common practice; at most 4 ft, which two sides reach. [m]"""
    highest: Annotated[Length, Field(gt=0.1, le=5.0)] = 1.4
    """As built; higher wants machines and slides: common practice. [m]"""
    longest: Annotated[Length, Field(ge=2.0, le=100.0)] = 10.0
    """Then a gap: 6 to 10 m where a mound might dam: common practice. [m]"""
    shortest: Annotated[Length, Field(ge=1.0, le=100.0)] = 4.0
    between: Annotated[Length, Field(ge=0.3, le=10.0)] = 0.9
    """Free ground between two bases, for a barrow; .6 m on foot: common practice. [m]"""
    gap: Annotated[Length, Field(ge=0.3, le=20.0)] = 1.5
    """Free ground between the ends of two mounds in line. [m]"""
    most: int = Field(default=12, ge=1, le=500)
    """Mounds at most; the material of the years to come may allow fewer."""
    directions: int = Field(default=36, ge=36, le=360)
    """Directions tried over half a turn."""
    offsets: int = Field(default=3, ge=1, le=20)
    """Sideways shifts tried for each direction."""
    clear_of_flow: Annotated[Length, Field(ge=0.0, le=20.0)] = 0.6
    """Free ground on each side of a flow line. [m]"""
    flow_area: float = Field(default=100.0, gt=0.0, le=1e6)
    """Ground behind a flow line from which on a mound must not lie across it. [m2]"""
    rise: Annotated[Length, Field(gt=0.0, le=1.0)] = 0.01
    """Rise of water at a boundary that fails the plan. [m]"""
    outlet_growth: float = Field(default=0.2, gt=0.0, le=1.0)
    """Share by which the ground that drains over a place on the boundary may grow without a word; more than twice the
    ground fails the plan. Our own choice; local law may allow none. [1]"""
    tape: Annotated[Length, Field(gt=1.0, le=200.0)] = 30.0
    """Longest tape; longer only where no fixed point is nearer. [m]"""
    weakest_angle: float = Field(default=30.0, ge=5.0, le=60.0)
    """Between two tapes; flatter ones give a place that swims. [deg]"""
    ditch_fall: float = Field(default=0.005, gt=0.0, le=0.1)
    """Least fall of a ditch or drain: common practice. [1]"""
    ditch_depth: Annotated[Length, Field(ge=0.2, le=1.2)] = 0.9
    """Depth of a ditch or drain dug by hand; never more than 1.2 m (4 ft). [m]"""
    design_rain: float = Field(default=7.0, gt=0.0, le=50.0)
    """Steady outflow that drains must carry with the water at its wanted depth (ILRI 16). [mm/day]"""


class MaterialsSettings(Section):
    """What is at hand, in loads and years."""

    load: float = Field(default=9.2, gt=0.0, le=60.0)
    """One truck load of chips: 12 cubic yards. [m3]"""
    loads_per_year: float = Field(default=6.0, gt=0.0, le=1000.0)
    """Loads of chips, leaves, logs and brush taken to come for nothing in a year where there is no stock.csv."""
    soil_per_year: float = Field(default=10.0, ge=0.0, le=10000.0)
    """Soil and compost that is taken to be found or bought in a year where there is no stock.csv; never free. [m3]"""
    money_per_year: float | None = Field(default=None, ge=0.0, le=1e7)
    """What may be spent in a year, in the money that stock.csv has its prices in; nothing is bought where not said."""
    currency: str = Field(default="$", max_length=8)
    """Sign of that money, before the number."""
    years: int = Field(default=4, ge=1, le=20)
    """Years over which to build."""
    cover: Annotated[Length, Field(ge=0.0, le=1.0)] = 0.20
    """Soil over wood: 15 cm at least, 20 to 30 better (practitioners). [m]"""
    logs: float = Field(default=0.55, ge=0.0, le=1.0)
    """Share of logs and brush in a woody core, the rest chips and leaves: common practice. [1]"""
    decay: float = Field(default=0.08, ge=0.0, le=1.0)
    """Share of a buried woody core that rots away in a year, after settling: common practice. [1/year]"""
    settling_years: float = Field(default=1.0, gt=0.1, le=10.0)
    """Time in which settlement comes to 63 parts in 100: most of it in 1 to 2 years (practitioners). [year]"""


class PlaceCriterion(Section):
    """One thing that a place for a hoop house is judged by; weight 0 drops it."""

    weight: int = Field(ge=0, le=9)
    """How often it counts in the product of all: our own choice. [1]"""
    least: Share = 0.0
    """A place that scores less is no place, however good it is else: our own choice. [1]"""


class HoopHouseSettings(Section):
    """The hoop house: how large, and what a good place is; shared trade figures with their sources beside them."""

    NOT_ABOVE = (("room", "better_room"),)

    propose: bool = True
    sizes: Annotated[tuple[tuple[Length, Length], ...], Field(min_length=1, max_length=6)] = ((9.0, 4.2),)
    """(length, width) of each house that would do, all are tried. [m]"""
    sites: int = Field(default=3, ge=1, le=10)
    direction_step: float = Field(default=7.5, ge=1.0, le=45.0)
    """Step between the directions that are tried. [deg]"""
    room: Annotated[Length, Field(ge=0.0, le=30.0)] = 3.0
    """Clear on every side for snow and doors: 10 ft, 20 ft is better (NRCS 325). [m]"""
    better_room: Annotated[Length, Field(ge=0.0, le=60.0)] = 6.0
    boundary: Annotated[Length, Field(ge=0.0, le=60.0)] = 3.0
    """Kept from the boundary: common practice, ask the local code. [m]"""
    steepest: float = Field(default=0.05, gt=0.0, le=0.5)
    """Rise per run that is too steep: 5 %, value from memory. [1]"""
    dry_depth: Annotated[Length, Field(gt=0.0, le=3.0)] = 0.6
    """Wet-season depth to water that leaves the ground posts dry: drains lie 18 to 24 in deep (UVM). [m]"""
    tree_heights: float = Field(default=2.0, ge=0.0, le=6.0)
    """Tree heights to keep from trees on the sunny side: common practice. [1]"""
    full_sun: float = Field(default=6.0, gt=0.0, le=16.0)
    """Hours of sun a day in the shoulder months that leave nothing to wish (UConn). [h/day]"""
    height: Annotated[Length, Field(gt=0.5, le=8.0)] = 2.4
    """Of the ridge. [m]"""
    film: Share = 0.7
    """Share of the sun that the film lets through: .6 to .85, common practice, no source. [1]"""
    winter_crop: bool = True
    wind_from: float | None = Field(default=None, ge=0.0, le=360.0)
    """Where the worst wind comes from, clockwise from north; not counted where it is not known. [deg]"""
    easy_walk: Annotated[Length, Field(gt=0.0, le=1000.0)] = 15.0
    """Walk from gate, drive or tap that costs nothing. [m]"""
    dry: PlaceCriterion = PlaceCriterion(weight=3, least=0.25)
    """Depth to water and wetness; water a hand below the ground rots posts and halves the hold of anchors."""
    shoulder_sun: PlaceCriterion = PlaceCriterion(weight=2, least=0.2)
    """Sun in spring and autumn, when it earns its keep."""
    midwinter_sun: PlaceCriterion = PlaceCriterion(weight=1)
    trees: PlaceCriterion = PlaceCriterion(weight=1, least=0.2)
    """Distance in tree heights; nearer than a fifth of what is asked limbs and roots reach it."""
    shelter: PlaceCriterion = PlaceCriterion(weight=1)
    level: PlaceCriterion = PlaceCriterion(weight=2)
    access: PlaceCriterion = PlaceCriterion(weight=2)
    clear_room: PlaceCriterion = PlaceCriterion(weight=1)
    direction: PlaceCriterion = PlaceCriterion(weight=1)


class TrellisSettings(Section):
    """Rows for vines: how many, how long, how high."""

    propose: bool = True
    rows: int = Field(default=2, ge=1, le=40)
    length: Annotated[Length, Field(gt=0.5, le=100.0)] = 6.0
    height: Annotated[Length, Field(gt=0.3, le=5.0)] = 2.0
    direction: Literal["best", "north-south", "east-west"] = "best"
    post_spacing: Annotated[Length, Field(gt=0.5, le=10.0)] = 2.4
    let_through: Share = 0.0
    """Share of the sun that the leafy row lets through. [1]"""
    wet_depth: Annotated[Length, Field(gt=0.0, le=3.0)] = 0.75
    """Wet-season depth to water above which posts go deeper: common practice. [m]"""


class PathSettings(Section):
    """Chip paths: how wide, how deep, for what wheel, and what makes a metre of path dear."""

    NOT_ABOVE = (("side_width", "width"),)

    propose: bool = True
    wheel: Literal["barrow", "wheelchair"] = "barrow"
    """What the main path is for; a wheelchair asks for 36 in and 1 in 20 (2010 ADA), and a firm surface."""
    width: Annotated[Length, Field(ge=0.3, le=5.0)] = 0.9
    """Main path: 30 to 36 in for a barrow. [m]"""
    side_width: Annotated[Length, Field(ge=0.3, le=5.0)] = 0.6
    """Side path: 24 in to work from. [m]"""
    chip_depth: Annotated[Length, Field(ge=0.0, le=0.6)] = 0.18
    """6 to 8 in, renewed yearly: common practice. [m]"""
    steepest: float = Field(default=1.0 / 12.0, gt=0.0, le=0.5)
    """Rise per run that a laden barrow takes without trouble: common practice. [1]"""
    wet_cost: float = Field(default=4.0, ge=0.0, le=100.0)
    """How many dry metres one metre on the wettest ground is worth, less one. [1]"""
    crossing_cost: Annotated[Length, Field(ge=0.0, le=200.0)] = 6.0
    """Detour that is worth one crossing of a flow line less. [m]"""
    flow_area: float = Field(default=150.0, gt=0.0, le=1e6)
    """Ground behind a place from which on water counts as a flow line. [m2]"""


class TippingSettings(Section):
    """Where a truck may tip chips: common practice, no source; the driver decides."""

    propose: bool = True
    pile_height: Annotated[Length, Field(gt=0.2, le=4.0)] = 1.5
    truck_width: Annotated[Length, Field(gt=1.0, le=6.0)] = 3.0
    """Clear lane for a small truck. [m]"""
    truck_length: Annotated[Length, Field(gt=2.0, le=16.0)] = 7.5
    turning: Annotated[Length, Field(gt=0.0, le=30.0)] = 8.0
    """Radius of the free circle that it turns in. [m]"""
    back_in: Annotated[Length, Field(ge=0.0, le=200.0)] = 40.0
    """How far a driver will back where there is no room to turn. [m]"""
    steepest: float = Field(default=0.08, gt=0.0, le=0.5)
    firm_depth: Annotated[Length, Field(ge=0.0, le=3.0)] = 0.4
    """Wet-season depth to water that bears a laden truck. [m]"""
    soft_ground: Annotated[Length, Field(ge=0.0, le=200.0)] = 15.0
    """How far a truck may leave road or drive over ground that bears it. [m]"""
    places: int = Field(default=3, ge=1, le=10)


Month = Literal[
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
MONTHS: tuple[Month, ...] = get_args(Month)


class JobsSettings(Section):
    """Who works, and how fast: common practice, no source; measure your own first day."""

    hours: dict[Month, Annotated[float, Field(ge=0.0, le=10000.0)]] | None = None
    """Hours of all hands together in each month that has any; not limited where not said. [h]"""

    people: int = Field(default=3, ge=1, le=100)
    barrow: float = Field(default=0.085, gt=0.01, le=0.5)
    """One barrow of chips: 9 to a cubic yard. [m3]"""
    loading: float = Field(default=4.0, gt=0.0, le=60.0)
    """To fill and tip one barrow. [min]"""
    walking: float = Field(default=45.0, gt=1.0, le=120.0)
    """Pace with a barrow. [m/min]"""
    spreading: float = Field(default=1.0, gt=0.0, le=20.0)
    """Chips raked out by one person. [m3/h]"""
    digging: float = Field(default=0.5, gt=0.0, le=5.0)
    """Soil moved by one person with a spade. [m3/h]"""
