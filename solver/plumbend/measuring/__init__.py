"""Measurements, how good they are, and the places that they fix.

A *place* is a base or a point, a *reading* what was read of one or more places, and the *network* all readings between
all places. :func:`plumbend.measuring.adjustment.adjust` finds the places; what it cannot fix, what it knows badly and
what no reading checks is said by :func:`plumbend.measuring.remarks.remarks_on`. Readings that are probably wrong are
found, named and left out by :func:`plumbend.measuring.misreads.find_misreads`.
"""
