"""What every test shares."""

from hypothesis import settings

from tests.truth import (  # noqa: F401 - pytest finds its hooks and fixtures here
    beside_published,
    pytest_addoption,
    pytest_collection_modifyitems,
    pytest_sessionfinish,
)

# a deadline would judge the machine and not the code: benchmarks are kept apart from tests
settings.register_profile("blendkit", deadline=None)
settings.load_profile("blendkit")
