"""One step of the session: what is asked, and what becomes of the answer."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from plumbend.records import record
from plumbend_cli.session.draft import Edit


@record
class Step:
    """A question.

    Attributes:
        key: a short stable name.
        name: what it asks for, as the list of what is missing calls it.
        prompt: what stands before the cursor.
        words: said before it is asked for the first time, in sentences.
        done: whether the job has the answer.
        begun: whether the job has any of it; None where that is the same.
        may_be_left: Enter alone goes past it.
        lasting: it is asked even where what comes after it is there already.
        answer: the change that an answer makes, given the typed line, which is empty for Enter alone; None goes past
            the question. Raises Unfit, BadText or BadValue for an answer that cannot stand. Left out where a reading
            is wanted.
        target: the place that readings are of where they do not say; they may be typed in place of an answer.
        bare: what stands before a figure that is typed alone, such as "B2 tape B1".
    """

    key: str
    name: str
    prompt: str
    words: tuple[str, ...] = ()
    done: bool = False
    begun: bool | None = None
    may_be_left: bool = False
    lasting: bool = False
    answer: Callable[[str], Edit | None] | None = None
    target: str | None = None
    bare: str | None = None

    @property
    def has_begun(self) -> bool:
        """Whether the job has any of it."""
        return self.done if self.begun is None else self.begun


def next_step(steps: Sequence[Step], left: Collection[str]) -> Step | None:
    """The first question that is neither answered nor left; None where there is none.

    One that may be left is taken as left where anything after it is there: the session was past it once.
    """
    for at, step in enumerate(steps):
        is_past = step.may_be_left and not step.lasting and any(later.has_begun for later in steps[at + 1 :])
        if not (step.done or step.key in left or is_past):
            return step
    return None
