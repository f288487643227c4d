"""How far the work on a large scan has come, on the terminal of whoever waits for it."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from rich.progress import Progress as Bar

    from plumbend.progress import Stage

LARGE = 100_000
"""Places from which on a scan takes long enough for a man to wonder."""


class ScanProgress:
    """A bar on standard error while a large scan is worked on, cleared away at the end.

    Only at a terminal, and not where the page goes elsewhere. Until it is told of a large scan it costs nothing.
    """

    def __init__(self, *, wanted: bool) -> None:
        self._wanted = wanted and sys.stdout.isatty() and sys.stderr.isatty()
        self._bar: Bar | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def __call__(self, stage: Stage, places: int) -> None:
        """Show what is being done; of how many places, what is known."""
        if not self._wanted or places < LARGE:
            return
        words = f"{stage}: {places:,} {'lines' if stage == 'reading the scan' else 'places'}"
        if self._bar is None:
            self._bar = _begun(words)
        else:
            self._bar.update(self._bar.task_ids[0], description=words, refresh=True)


def _begun(words: str) -> Bar:
    # a fifth of the time that a small job takes
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(bar_width=10),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    bar.add_task(words, total=None)
    bar.start()
    return bar
