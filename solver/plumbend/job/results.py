"""Results as data."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plumbend.frames import FloatArray
from plumbend.job.frame_report import FrameReport
from plumbend.notices import END_NOT_CUT, Notice
from plumbend.records import record
from plumbend.shape.certainty import Certainty
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shop import Die

if TYPE_CHECKING:  # what was not asked, or cannot be made, costs no import
    from plumbend.ends.cuts import EndCut
    from plumbend.ends.end_report import EndReport
    from plumbend.job.die_choice import DieCost
    from plumbend.job.why_report import WhyReport
    from plumbend.making.checks import Checks
    from plumbend.making.legible import Legible
    from plumbend.making.steps import Making
    from plumbend.shape.chain import Chain


@record
class PointMiss:
    """How far the fitted tube passes from one point.

    Attributes:
        name, what: as typed.
        miss: mm; for outside, touch and clear + is away from the tube, beyond the gap where there is one; else a
            distance.
        doubt: standard deviation of the miss, mm; None for a point that was left out.
        suspect: the point is probably wrong, and the tube was fitted without it.
        misread: the human error that explains it best, or those that do so alike; None where there is none.
    """

    name: str
    what: str
    miss: float
    doubt: float | None = None
    suspect: bool = False
    misread: str | None = None


@record
class ReadingMiss:
    """How far a reading of the tube itself is from the fitted tube.

    Attributes:
        name: what was read.
        miss: reading less tube, mm or radians.
        is_angle: whether it is in radians.
        suspect: the reading is probably wrong, and the tube was fitted without it.
    """

    name: str
    miss: float
    is_angle: bool
    suspect: bool = False


@record
class ScanReport:
    """How a scan agrees: points kept, points dropped, root mean square and worst miss in mm, + away from the tube."""

    count: int
    dropped: int
    rms: float
    worst: float


@record
class PartRadius:
    """Centreline radius of an existing part's own bends and its standard deviation, mm; NaN where not known."""

    radius: float
    doubt: float


@record
class FitReport:
    """How well everything measured agrees with the tube.

    Attributes:
        chi2: sum of the squared misses, each over its accuracy.
        dof: how many more numbers were measured than the tube has; ``chi2`` is about as much where all is well.
        points: the miss of every point, in the order typed.
        worst: index of the point whose miss is the largest for its accuracy; None where a reading's is, or no point's.
        readings: the misses of readings of the tube itself.
        scan: how the scan agrees; None without one.
        worst_reading: as ``worst``, of ``readings``.
    """

    chi2: float
    dof: int
    points: tuple[PointMiss, ...]
    worst: int | None = None
    readings: tuple[ReadingMiss, ...] = ()
    scan: ScanReport | None = None
    worst_reading: int | None = None


@record(eq=False)
class EndMet:
    """An end that is cut to something.

    Attributes:
        end: name of the end.
        far: whether it is the far end.
        on: names of what it meets, the first being the one that the centreline runs to; empty for a saw cut.
        off_square: of a saw cut, radians; 0 is square, None where it is on something.
        allowance: mm left on, to be worked down to the joint.
        place: (3,) mm, where the centreline stops.
        off: mm by which it runs on beyond where the end was measured; None where it was not, or for a saw cut.
        longest: mm by which the longest point of the cut lies beyond where the centreline stops, less than 0 where it
            stops short of there.
        at: mm from the nearest tangent to where the centreline stops, in the tube as it will be made.
        aside: mm by which the centreline passes that of a tube that it is on; None for a plate or a saw cut.
        centred: whether that is so little, or so little known, that the cut is made as if they crossed.
    """

    end: str
    far: bool
    on: tuple[str, ...]
    off_square: float | None
    allowance: float
    place: FloatArray
    off: float | None
    longest: float
    at: float
    aside: float | None
    centred: bool


@record
class TubeResult:
    """One tube solved, or refused with the nearest tube that can be bent.

    Attributes:
        name: the tube's name.
        solved: False where a notice of level "refusal" is among ``notices``.
        die: the die used.
        od: outside diameter, mm.
        ends: names of the start end's and the far end's points.
        program: straights (mm), rotations and angles (radians); None where no tube was found at all.
        corners: (n + 2, 3) mm, NaN rows where a corner lies too far off to be of use (a U-bend).
        tangents: (n + 1, 2, 3) mm, start and end of every straight.
        developed_length: finished centreline, end to end, mm.
        fit: None for a tube given by its program.
        notices: refusals first, in the order to be read.
        certainty: how well the numbers are known; None for a tube given by its program.
        part: for a copy, the radius of the part's own bends; the program is for the die's.
        points: what the tube was fitted to, in the order typed, those that readings place among them.
        why: what drives its numbers, where that was asked.
        dies: what each die would cost, where which one is still a question; ``die`` is then none of the answer.
        stops: (n,) radians, where the pointer stops at each bend; None where the springback is not known.
        making: the steps at the bender; None for a tube that is refused, has no bend or is not fixed in every part.
        checks: how to check the finished part; None likewise.
        legible: the numbers to set; None for a tube that is not solved, and for one given by its program, whose numbers
            are the user's own.
        made: the tube as it will be made, where it then lies best; None for a tube that is not solved.
        met: what its ends are cut to, the start end's first; empty for a tube that is not solved.
        cuts: the same as they are to be cut.
        end_reports: the numbers for them.
    """

    name: str
    solved: bool
    die: Die
    od: float
    ends: tuple[str, str]
    program: Program | None
    corners: FloatArray | None
    tangents: FloatArray | None
    developed_length: float | None
    fit: FitReport | None
    notices: tuple[Notice, ...]
    certainty: Certainty | None = None
    part: PartRadius | None = None
    points: tuple[Point, ...] = ()
    why: WhyReport | None = None
    dies: tuple[DieCost, ...] = ()
    stops: FloatArray | None = None
    making: Making | None = None
    checks: Checks | None = None
    legible: Legible | None = None
    made: Chain | None = None
    met: tuple[EndMet, ...] = ()
    cuts: tuple[EndCut, ...] = ()
    end_reports: tuple[EndReport, ...] = ()

    @property
    def is_fixed(self) -> bool:
        """Whether every number of its program is known, so that it can be made step by step."""
        return self.certainty is None or self.certainty.every_number_known

    @property
    def only_ends_refused(self) -> bool:
        """Whether the tube itself could be bent, and no more than an end of it cannot be cut as asked."""
        refused = [notice.code for notice in self.notices if notice.level == "refusal"]
        return bool(refused) and all(code.startswith(END_NOT_CUT) for code in refused)


@record
class Result:
    """All tubes of a job, in the file's order, and what its readings of the vehicle came to, where it has any."""

    job: str
    tubes: tuple[TubeResult, ...]
    frame: FrameReport | None = None

    @property
    def exit_status(self) -> int:
        """0 where every tube is solved, else 3."""
        return 0 if all(tube.solved for tube in self.tubes) else 3
