"""The columns of the solver's work array: plain integers, so that compiled code can use them as constants."""

from __future__ import annotations

# By place among the live runs:
FLOW, Y, QUADRATIC, RUBBING, PER_FLOW, WALL, ALPHA, BETA, CONSTANT, PROPORTION = range(10)
# By row of the table, from state to state:
KEPT_Y, KEPT_PER_FLOW, KEPT_LONE, KEPT_POWERS = range(10, 14)
WORK_COLUMNS = 14
