"""How jobs begin whose tubes end on each other or on a post, as text: mm, tube of 40 x 2, and a die for it."""

HEAD = """
units = "mm"
[tubing]
od = 40
wall = 2
[good_to]
point = 2
[[die]]
clr = 150
od = 40
"""
"""The job's head; what follows at once are further keys of the die."""
POST = """
[[neighbour]]
name = "post"
tube = [ [1000, 500, 0], [1000, 500, 1500] ]
od = 48
"""
