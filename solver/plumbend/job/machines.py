"""The bender and the notcher, and how the man works on them, read from their tables."""

from __future__ import annotations

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.shop_values import SWINGS_FORM
from plumbend.job.tables import BenderTable, HabitTable, JobFile, NotcherTable, ShopFile
from plumbend.job.values import Reading
from plumbend.records import record
from plumbend.shop import Bender, Notcher, Shop, Ways


@record
class Machines:
    """What tubes are bent and notched on, and how; what a file does not say of it is None."""

    bender: Bender = Bender()
    notcher: Notcher = Notcher()
    ways: Ways = Ways()


def read_machines(file: ShopFile | JobFile, top: Spot, mistakes: Mistakes) -> Machines:
    """Those of ``[bender]`` and ``[notcher]``, and the ways of ``[habit]``."""
    reading = Reading(file.units or "mm")
    bender, notcher, ways = Bender(), Notcher(), Ways()
    if file.bender is not None:
        here = top.within(("bender",), "[bender]")
        told = read_table(BenderTable, file.bender, here, reading, mistakes)
        if told.plane == "level" and told.swings in ("up", "down"):
            mistakes.add(here, ("swings",), f"a level bender swings nothing {told.swings}", f"Write {SWINGS_FORM}.")
        bender = Bender(told.drive, told.plane, told.swings, told.dial_step, told.dial_slack, told.tape_step)
    if file.notcher is not None:
        said = read_table(NotcherTable, file.notcher, top.within(("notcher",), "[notcher]"), reading, mistakes)
        notcher = Notcher(said.most_off_square, said.clamp, said.cup)
    if file.habit is not None:
        works = read_table(HabitTable, file.habit, top.within(("habit",), "[habit]"), reading, mistakes)
        ways = Ways(works.marks, works.measure, works.begin, works.trim)
    return Machines(bender, notcher, ways)


def of_either(job: JobFile, own: Machines, shop: Shop, top: Spot, mistakes: Mistakes) -> Machines:
    """The machines of a job: its ``own`` where it has the table, else those of its shop file; of the ways it overrules
    the shop key by key."""
    if job.bender is not None and shop.bender != Bender():
        what = "the shop file and this file both say what the bender is"
        mistakes.add(top, ("bender",), what, "Leave [bender] to the shop file.")
    if job.notcher is not None and shop.notcher != Notcher():
        what = "the shop file and this file both say what the notcher is"
        mistakes.add(top, ("notcher",), what, "Leave [notcher] to the shop file.")
    return Machines(
        shop.bender if job.bender is None else own.bender,
        shop.notcher if job.notcher is None else own.notcher,
        own.ways.over(shop.ways),
    )
