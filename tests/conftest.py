"""How Hypothesis draws: each run the same examples, and without a watch on how long a busy machine takes for one.

`--hypothesis-profile explore` draws others each time.
"""

from hypothesis import HealthCheck, settings

settings.register_profile("explore", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("same", settings.get_profile("explore"), derandomize=True)
settings.load_profile("same")
