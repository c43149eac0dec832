"""What a batch of logs takes: bit and depth, spawn, wax, hours, trees and floor."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, pi

from fruitcast.topics import InoculationNumbers, Tool

WAXLESS = "thimble"
"""The form of spawn that comes with its own cap."""


@dataclass(frozen=True)
class Materials:
    """What a batch takes.

    Attributes
    ----------
    bit, depth : float
        Of the holes: drill bit, and depth at which to set the stop. [m]
    holes : int
        In all logs.
    pieces : int
        Plugs or thimbles to buy, spare ones included; 0 for sawdust.
    sawdust : float
        Sawdust spawn to buy, what is spilt included; 0 for plugs and thimbles. [kg]
    wax : float
        Food-grade wax. [kg]
    drilling_hours, filling_hours, waxing_hours, handling_hours : float
        Work of one pair of hands. [h]
    trees : int
        Trees to fell.
    floor : float
        Ground that the stacked logs stand on. [m2]
    """

    bit: float
    depth: float
    holes: int
    pieces: int
    sawdust: float
    wax: float
    drilling_hours: float
    filling_hours: float
    waxing_hours: float
    handling_hours: float
    trees: int
    floor: float

    @property
    def hours(self) -> float:
        """Work in all. [h]"""
        return self.drilling_hours + self.filling_hours + self.waxing_hours + self.handling_hours


def sawdust_per_hole(bit: float, depth: float, *, sawdust_density: float) -> float:
    """Return the sawdust spawn pressed into one hole.

    Parameters
    ----------
    bit, depth : float
        Of the hole. [m]
    sawdust_density : float
        Of sawdust spawn pressed into a hole. [kg/m3]

    Returns
    -------
    float
        What is spilt left out. [kg]
    """
    return pi / 4 * bit**2 * depth * sawdust_density


def stack_floor(
    logs: int, diameter: float, length: float, *, stack_height: float, stack_gap: float
) -> float:
    """Return the ground under logs stacked crosswise, layer on layer, in square stacks.

    Parameters
    ----------
    logs : int
        Logs.
    diameter, length : float
        Over bark. [m]
    stack_height : float
        Of a stack. [m]
    stack_gap : float
        Between the logs of a layer. [m]

    Returns
    -------
    float
        Without the paths between the stacks. [m2]
    """
    a_layer = max(floor(length / (diameter + stack_gap)), 1)
    layers = max(floor(stack_height / diameter + 1e-9), 1)
    return ceil(logs / (a_layer * layers)) * length**2


def materials(
    logs: int,
    holes_per_log: int,
    diameter: float,
    length: float,
    spawn: str,
    tool: Tool,
    inoculation: InoculationNumbers,
    *,
    seal_ends: bool = False,
) -> Materials:
    """Return what a batch of logs takes.

    Parameters
    ----------
    logs, holes_per_log : int
        Logs, and holes in each.
    diameter, length : float
        Over bark. [m]
    spawn : str
        Form of spawn.
    tool : str
        One of `TOOLS`.
    inoculation : InoculationNumbers
        Numbers of inoculation.
    seal_ends : bool, default False
        Whether the cut ends are waxed as well.
    """
    bit, depth = inoculation.hole(spawn)
    holes = logs * holes_per_log
    pieces, sawdust = 0, 0.0
    if spawn == "sawdust":
        spilt = 1 + inoculation.sawdust_spilt
        sawdust = (
            holes
            * sawdust_per_hole(bit, depth, sawdust_density=inoculation.sawdust_density)
            * spilt
        )
    else:
        pieces = ceil(holes * (1 + inoculation.spare_spawn) - 1e-9)
    waxed = 0 if spawn == WAXLESS else holes
    ends = 2 * logs * pi / 4 * diameter**2 if seal_ends else 0.0
    return Materials(
        bit=bit,
        depth=depth,
        holes=holes,
        pieces=pieces,
        sawdust=sawdust,
        wax=waxed * inoculation.wax_per_hole + ends * inoculation.wax_per_end_area,
        drilling_hours=holes * inoculation.drilling_seconds(tool) / 3600,
        filling_hours=holes * inoculation.filling_seconds(spawn) / 3600,
        waxing_hours=waxed * inoculation.wax_seconds / 3600,
        handling_hours=logs * inoculation.handling_seconds / 3600,
        trees=ceil(logs / inoculation.logs_a_tree - 1e-9),
        floor=stack_floor(
            logs,
            diameter,
            length,
            stack_height=inoculation.stack_height,
            stack_gap=inoculation.stack_gap,
        ),
    )
