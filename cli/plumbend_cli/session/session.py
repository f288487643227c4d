"""The session itself: asks, takes what is typed, and shows what it comes to, until the user ends it."""

from __future__ import annotations

import difflib
from dataclasses import replace

from plumbend.errors import BadFile, BadText, BadValue
from plumbend.job.begun_job import add_table, read_typed_line, reading_in, typed_value
from plumbend.job.half_made import ReadingSoFar
from plumbend.job.vehicle_entries import Entry
from plumbend.job.writing import JobDocument
from plumbend.typed import parse_length
from plumbend.units import Units
from plumbend_cli.page import Column, Paragraph, Table
from plumbend_cli.session.draft import Draft, Edit, Progress, Unfit, sentence
from plumbend_cli.session.helping import help_page
from plumbend_cli.session.judging import far_off, together_out
from plumbend_cli.session.measuring import placed
from plumbend_cli.session.missing import disagreeing, doubtful, missing, steps_of
from plumbend_cli.session.naming import place_base, place_typed
from plumbend_cli.session.picture import picture
from plumbend_cli.session.so_far import dots_of, table_of
from plumbend_cli.session.standing import Standing
from plumbend_cli.session.step import Step, next_step
from plumbend_cli.session.terminal import Terminal
from plumbend_cli.session.typed import At, Command, command_of, is_reading, measured, quoted

_MORE = Step("more", "", "more > ", ("All questions are through. Type more readings, tube for another tube, or done.",))
_SURE = "y keeps it, or type it again > "


class _Done(Exception):
    """The user ends the session."""


class Session:
    """One sitting at one job.

    Args:
        terminal: what it talks through.
        draft: the job.
    """

    def __init__(self, terminal: Terminal, draft: Draft) -> None:
        self._terminal, self._draft = terminal, draft
        self._said: tuple[str, ...] = ()

    def run(self) -> None:
        """Ask until the user ends it. Raises BadFile where the job can no longer be read."""
        try:
            while True:
                self._turn()
        except _Done:
            return
        except (EOFError, KeyboardInterrupt):
            self._terminal.draw([""])
            self._next("Everything is saved. Go on with:", "new")

    def _turn(self) -> None:
        step = next_step(steps_of(self._draft), self._draft.progress.left) or _MORE
        if step.words != self._said:
            self._say(*step.words)
            if step is _MORE:
                self._say(*missing(self._draft, steps_of(self._draft)))
            self._said = step.words
        line = self._terminal.ask(step.prompt).strip()
        try:
            self._take(line, step)
        except (Unfit, BadText, BadValue) as fault:
            self._say(str(fault))
        except BadFile as fault:
            self._say(sentence(fault), "The job is read afresh. Type the last answer again if it is not there.")
            self._draft = Draft(JobDocument.open(self._draft.path))
            self._said = ()

    def _take(self, line: str, step: Step) -> None:
        command = command_of(line)
        if command:
            self._obey(command)
        elif step.answer is not None and not (step.target and line and is_reading(line)):
            self._answered(step, step.answer(line))
        elif not line:
            self._leave(step)
        else:
            self._put_reading(line, step)

    def _answered(self, step: Step, edit: Edit | None) -> None:
        if edit is None:
            self._draft.leave(step.key, for_good=not step.lasting)
            return
        self._draft.propose(edit)
        self._draft.accept(Progress(self._draft.progress.left))

    def _leave(self, step: Step) -> None:
        if step is _MORE:
            return
        if step.target and not self._draft.standing.is_fixed(step.target):
            self._say(f"{self._draft.standing.words(step.target)} It is left for later.")
        self._draft.leave(step.key, for_good=not step.lasting)

    # readings

    def _put_reading(self, line: str, step: Step) -> None:
        what = measured(line, step.target)
        if isinstance(what, At):
            self._put_place(what, step)
            return
        text = f"{step.bare} {line}" if step.bare and _is_figure(line) else what.text
        if step.target and _is_figure(line):
            raise Unfit(f'"{line}" does not say what was read. Write height {line}, or tape B1 {line}.')
        entry = self._entry(text)

        def edit(document: JobDocument) -> None:
            document.append_reading(reading_in(document.readings_form(), entry))

        self._put(edit, step, -1)

    def _put_place(self, what: At, step: Step) -> None:
        draft, name = self._draft, self._known(what.name)
        before = draft.standing
        draft.propose(self._place(name, what))
        out = together_out(before.adjusted, draft.standing, self._units)
        if self._is_kept([f"{out} Sure?"] if out else [], step):
            self._show_so_far(name)

    def _place(self, name: str, what: At) -> Edit:
        half = self._draft.standing.half
        for index, base in enumerate(half.bases):
            if base.name == name:
                return place_base(index, half.base_rows[index], place_typed(", ".join(what.figures), self._units))
        for point in half.points:
            if point.name == name:
                return placed(point, [typed_value(figure) for figure in what.figures])
        raise Unfit(f'There is no base or point "{name}".')

    def _entry(self, text: str) -> Entry:
        """A typed line with its names as the job spells them."""
        try:
            entry = read_typed_line(text, self._units)
        except BadFile as fault:
            raise Unfit(sentence(fault)) from None
        for keys, name in entry.named:
            key, *at = keys
            if at:
                entry.row[str(key)][at[0]] = self._known(name)
            else:
                entry.row[str(key)] = self._known(name)
        return entry

    def _known(self, name: str) -> str:
        """A name as the job spells it; as it is where none is meant for sure."""
        names = self._draft.standing.names
        alike = [other for other in names if other.casefold() == name.casefold()]
        return alike[0] if name not in names and len(alike) == 1 else name

    def _put(self, edit: Edit, step: Step, at: int) -> None:
        """Put a reading in, where need be after a question; ``at`` is its place among all of them."""
        before = self._draft.standing
        self._draft.propose(edit)
        put = self._draft.standing.half.readings[at]
        if self._is_kept(self._doubts(put, before, is_new=at < 0), step):
            self._show_so_far(self._in_hand(put, step))

    def _in_hand(self, put: ReadingSoFar, step: Step) -> str | None:
        """The place whose standing a reading changed: the one asked about, else the point that it names."""
        named = () if put.reading is None else put.reading.places
        if step.target in named:
            return step.target
        points = {point.name for point in self._draft.standing.half.points}
        return next((name for name in named if name in points), None)

    def _is_kept(self, doubts: list[str], step: Step) -> bool:
        """Whether what was proposed is kept, as it is where nothing speaks against it; it is then saved."""
        draft = self._draft
        if doubts:
            self._say(*doubts)
            try:
                answer = self._terminal.ask(_SURE).strip()
            except (EOFError, KeyboardInterrupt):
                draft.withdraw()
                raise
            if answer.lower() not in ("y", "yes"):
                draft.withdraw()
                self._again(answer, step)
                return False
        draft.accept(replace(draft.progress, target=step.target))
        return True

    def _again(self, answer: str, step: Step) -> None:
        if answer.lower() in ("", "n", "no"):
            self._say("It is not taken.")
        else:
            self._take(answer, step)

    def _doubts(self, put: ReadingSoFar, before: Standing, *, is_new: bool) -> list[str]:
        """What is asked back before a reading counts, which is ``is_new`` or stands in the place of another."""
        after = self._draft.standing
        new = [name for name in after.names if name not in before.names]
        doubts = []
        for name in new:
            near = difflib.get_close_matches(name, before.names, n=1, cutoff=0.5)
            meant = f" Did you mean {near[0]}?" if near else ""
            doubts.append(f'"{name}" is no base or point so far.{meant} Is it a new place?')
        off = None if put.reading is None else far_off(put.reading, before if is_new else None, after, self._units)
        return [*doubts, f"{off} Sure?"] if off else doubts

    # commands

    def _obey(self, command: Command) -> None:
        match command.name:
            case "done":
                self._done()
            case "help":
                self._terminal.show(*help_page())
            case "undo":
                self._undo()
            case "tube":
                self._add_tube()
            case "list":
                self._list()
            case "where":
                said = missing(self._draft, steps_of(self._draft)) or ["Nothing is missing."]
                self._say(*said, *doubtful(self._draft))
            case "strike":
                self._strike(command.number)
            case _:
                self._edit(command.number, command.rest)

    def _done(self) -> None:
        said = missing(self._draft, steps_of(self._draft))
        if said:
            self._say("Still missing:", *said)
            self._next("Everything so far is saved. Go on with:", "new")
        else:
            self._say(*doubtful(self._draft))
            self._next("The job is complete and saved. Next:", "solve")
        raise _Done

    def _undo(self) -> None:
        if not self._draft.undo():
            self._say("There is nothing to undo in this sitting. edit and strike change earlier readings.")
            return
        self._said = ()
        self._say("The last answer is taken back.")

    def _add_tube(self) -> None:
        """Begin another tube; the questions about it then follow."""
        tubes = [tube.name for tube in self._draft.standing.half.tubes]
        if None in tubes:
            raise Unfit("The first tube has no name yet. Say that first.")
        name = " ".join(self._terminal.ask("Name of the other tube > ").split())
        if not name:
            self._say("No tube is added.")
            return
        if name in tubes:
            raise Unfit(f'There is a tube "{name}" already. Give each its own name.')
        self._draft.propose(lambda document: add_table(document, "tube", {"name": name}))
        self._draft.accept()

    def _list(self) -> None:
        standing = self._draft.standing
        if not standing.half.readings:
            self._say("There are no readings yet.")
            return
        rows = tuple(
            (str(number), one.typed, "" if one.reading else "struck out")
            for number, one in enumerate(standing.half.readings, 1)
        )
        self._terminal.show(Table((Column("no.", numeric=True), Column("reading"), Column("")), rows))

    def _numbered(self, number: int) -> ReadingSoFar:
        readings = self._draft.standing.half.readings
        if not 0 < number <= len(readings):
            raise Unfit(f"There is no reading {number}. list shows them with their numbers.")
        return readings[number - 1]

    def _strike(self, number: int) -> None:
        one = self._numbered(number)
        is_in = one.reading is not None
        self._draft.propose(lambda document: document.strike_reading(one.written.index, is_in))
        self._draft.accept()
        self._say(f"Reading {number} is {'struck out' if is_in else 'taken back in'}: {one.typed}")
        self._show_so_far(None)

    def _edit(self, number: int, typed: str) -> None:
        old = self._numbered(number)
        typed = typed or self._terminal.ask(f"{number}: {old.typed}, now > ").strip()
        if not typed:
            return
        what = measured(typed, old.reading.places[0] if old.reading else None)
        if isinstance(what, At):
            raise Unfit("A reading is wanted here, not a place. strike takes the old one out.")
        entry = self._entry(what.text)
        if old.reading is not None and entry.written.note is None:
            entry = replace(entry, written=replace(entry.written, note=old.written.note))

        def edit(document: JobDocument) -> None:
            document.replace_reading(old.written.index, reading_in(document.readings_form(), entry))

        self._put(edit, replace(_MORE, target=self._draft.progress.target), number - 1)

    # showing

    @property
    def _units(self) -> Units:
        return self._draft.standing.half.units or "mm"

    def _say(self, *sentences: str) -> None:
        for text in sentences:
            self._terminal.show(Paragraph(text))

    def _next(self, said: str, command: str) -> None:
        """What to type next, on a line of its own that nothing breaks."""
        name = str(self._draft.path)
        self._say(said)
        self._terminal.draw([f"  plumbend {command} {quoted(name)}"])

    def _show_so_far(self, name: str | None) -> None:
        """The running table, the picture, and how the place in hand stands."""
        standing = self._draft.standing
        half = standing.half
        begun = [one.name for one in half.points if one.has_place or standing.readings_of(one.name)]
        asked = {base.name for base in half.bases} | {point.name for point in half.points}
        others = [name for name in standing.names if name not in asked]
        bases = [base.name for base in half.bases if not begun or not standing.is_fixed(base.name)]
        drawn = picture(dots_of(standing), self._terminal.width - 1)
        self._terminal.draw(["", *drawn, ""])
        self._terminal.show(table_of([*bases, *begun, *others], standing, self._units))
        if name is not None:
            self._say(standing.words(name))
        self._say(*disagreeing(self._draft))


def _is_figure(line: str) -> bool:
    try:
        parse_length(line, "mm")
    except BadText:
        return False
    return True
