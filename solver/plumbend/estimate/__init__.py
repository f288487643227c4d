"""Least squares on rows: knows nothing of tubes.

A problem hands over its normal equations at a state and moves the state by a step; see
:class:`plumbend.estimate.minimise.Problem`.
"""
