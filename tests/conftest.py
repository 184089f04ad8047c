"""Settings of all tests: no example has a time limit, since the first one compiles the kernels."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "buckwright", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("explore", parent=settings.get_profile("buckwright"), derandomize=False)
settings.load_profile("buckwright")
