"""What every test shares."""

from hypothesis import settings

# a deadline would judge the machine and not the code: benchmarks are kept apart from tests
settings.register_profile("blendkit", deadline=None)
settings.load_profile("blendkit")
