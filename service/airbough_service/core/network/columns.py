"""The columns of the packed tree: plain integers, so that compiled code can use them as constants.

``table[n, FLOAT_COLUMNS]`` holds a run's numbers, ``links[n, LINK_COLUMNS]`` its place in the tree.
Runs stand in breadth-first order from the fan: a parent before its children, siblings side by side.
"""

from __future__ import annotations

from typing import Final

# Numbers of a run; losses are in Pa with flow in m3/s.
LOCAL: Final = 0  # sum of fixed coefficients times density / (2 area^2): Pa/(m3/s)^2
FRICTION: Final = 1  # length/diameter times density / (2 area^2); times the Darcy factor
REYNOLDS: Final = 2  # Reynolds number per flow
ROUGH: Final = 3  # roughness / (3.7 diameter)
POWER_A: Final = 4  # a loss POWER_A * flow^EXPONENT_A: power-law friction
EXPONENT_A: Final = 5
POWER_B: Final = 6  # a loss POWER_B * flow^EXPONENT_B: resistance inside a machine
EXPONENT_B: Final = 7
AREA_RATIO: Final = 8  # area of `into` over the area that meets the junction; a straight's is 1
MOMENTUM: Final = 9  # of a flow of 1, along `into`: the law's constant times AREA_RATIO times the cosine of the angle
ENTRY_FACTOR: Final = 10  # entry factor on the run's own velocity pressure
VP_END: Final = 11  # density / (2 area^2) at the downstream end
VP_START: Final = 12  # density / (2 area^2) at the upstream end, where runs join into this one
FACTOR_LOW: Final = 13  # branch factor below the step: FACTOR_LOW + FACTOR_SLOPE * flow ratio
FACTOR_SLOPE: Final = 14
FACTOR_HIGH: Final = 15  # branch factor above the step
FACTOR_STEP: Final = 16  # flow ratio of the step; above 1: no step
FACTOR_JOIN: Final = 17  # flow ratios over which the step is joined, either side
LIFT: Final = 18  # of a branch: 1 where its factor is on 1 + the momentum form, 0 where on that form itself
SIDE_LINEAR: Final = 19  # what a branch's flow costs the straight run: SIDE_LINEAR times it times the flow of `into`,
SIDE_DRAG: Final = 20  # less SIDE_DRAG times its square; both 0 for a straight
START: Final = 21  # a first guess of 1/sqrt(friction factor)
FLOAT_COLUMNS: Final = 22

# Place of a run.
PARENT: Final = 0  # -1 for the run at the fan
FIRST_CHILD: Final = 1
CHILDREN: Final = 2
LAW: Final = 3  # the junction law at this run's upstream end
IS_BRANCH: Final = 4  # whether the run enters its junction at an angle
LINK_COLUMNS: Final = 5

# Junction laws.
MEET: Final = 0  # total pressures meet, nothing is charged
FLOW_RATIO: Final = 1  # momentum balance along `into`
ENTRY: Final = 2  # entry-angle law of the velocity-pressure method
