"""What all works have in common, and the stakes that set them out."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Collection, Iterable
from dataclasses import KW_ONLY, dataclass
from datetime import date
from enum import StrEnum
from typing import Annotated, ClassVar, TypeVar

from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import Degrees, Goes, Key, Metres, Parts
from sitepipe.site import Ref, Status, Work


class Side(StrEnum):
    """Of the line from the first point to the second, seen from the first; neither where there are no tapes."""

    LEFT = "left"
    RIGHT = "right"
    NEITHER = ""


@dataclass(frozen=True, slots=True)
class Stake:
    """A point to set out with two tapes from fixed points, or from stakes set out before it.

    Parameters
    ----------
    label : str
        Such as ``A1``.
    place : point
        [m]
    from_points : ((name, distance m), (name, distance m))
    side : Side
        The tapes cross twice: on which side of the line between their points it lies.
    order : int
        Its turn when setting out: a tape starts at a fixed point or at a stake with an earlier turn.
    angle : float
        Between the tapes where they meet; below 30 the place is weak. [deg]
    height : float
        Finished height above (or below) the bench mark. [m]
    """

    label: str
    place: Annotated[Point, Goes.INTERNAL]
    from_points: Annotated[tuple[tuple[str, float], tuple[str, float]], Key("tapes_m"), Parts("from", "distance_m")]
    side: Side
    angle: Annotated[Degrees, Key("angle_between_tapes")]
    height: Annotated[Metres, Key("height_above_bench_mark")]
    order: int = 0


@dataclass(frozen=True, slots=True)
class Built(ABC):
    """What every work has: a number that stays, the grower's name for it, and whose it is.

    Parameters
    ----------
    number : int
        Among the works of its kind; nothing else ever gets it.
    name : str
        As the grower wrote it, never trusted as markup; empty where it has none.
    status : Status
    built : date or None
        When what stands was built.
    stakes : tuple of Stake
    """

    kind: ClassVar[Work]
    number: int
    _: KW_ONLY
    name: str = ""
    status: Status = Status.PROPOSED
    built: date | None = None
    stakes: tuple[Stake, ...] = ()

    @property
    def is_proposed(self) -> bool:
        """Whether nobody drew or kept it."""
        return self.status in (Status.PROPOSED, Status.ANOTHER)

    @property
    @abstractmethod
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""

    @property
    def ref(self) -> Ref:
        """How other records name it."""
        return Ref(self.kind, self.number)


Kin = TypeVar("Kin", bound=Built)


def these(kin: type[Kin], works: Iterable[Built]) -> tuple[Kin, ...]:
    """Return the works of one type, in their order."""
    return tuple(work for work in works if isinstance(work, kin))


def all_but(refs: Collection[Ref], works: Iterable[Kin]) -> tuple[Kin, ...]:
    """Return the works that are not among those named."""
    return tuple(work for work in works if work.ref not in refs)


def not_standing(works: Iterable[Kin]) -> tuple[Kin, ...]:
    """Return the works that are still to be built."""
    return tuple(work for work in works if work.status is not Status.STANDING)
