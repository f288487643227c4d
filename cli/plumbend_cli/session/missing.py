"""What a job still lacks."""

from __future__ import annotations

from collections.abc import Sequence

from plumbend_cli.session.draft import Draft
from plumbend_cli.session.measuring import measuring
from plumbend_cli.session.naming import naming
from plumbend_cli.session.setting_up import setting_up
from plumbend_cli.session.step import Step


def steps_of(draft: Draft) -> list[Step]:
    """Every question of the session, in order."""
    return [*setting_up(draft), *naming(draft), *measuring(draft)]


def missing(draft: Draft, steps: Sequence[Step]) -> list[str]:
    """What must still come before the job can be solved, a sentence each."""
    standing = draft.standing
    asked = [step.name for step in steps if not step.done and not step.may_be_left]
    names = [base.name for base in standing.half.bases] + [point.name for point in standing.half.points]
    open_ones = [name for name in names if not standing.is_fixed(name) or standing.mirror(name)]
    unmeasured = [name for name in open_ones if not standing.readings_of(name)]
    return [
        *([f"Not said yet: {', '.join(asked)}."] if asked else []),
        *(standing.words(name) for name in open_ones if name not in unmeasured),
        *([f"Not measured yet: {', '.join(unmeasured)}."] if unmeasured else []),
    ]


def doubtful(draft: Draft) -> list[str]:
    """What would make it surer, a sentence each."""
    standing = draft.standing
    said = []
    slack = [
        point.name
        for point in standing.half.points
        if not point.has_place and standing.is_fixed(point.name) and not standing.is_checked(point.name)
    ]
    if slack:
        said.append(f"Not wholly checked: {', '.join(slack)}. A slip there might not be seen; one reading more tells.")
    return [*said, *disagreeing(draft)]


def disagreeing(draft: Draft) -> list[str]:
    """That the readings cannot all be right, where they cannot."""
    if draft.standing.adjusted.agrees:
        return []
    return ["The readings do not all agree: one may be wrong. plumbend check names the likeliest."]
