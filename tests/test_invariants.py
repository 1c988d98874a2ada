"""The whole way on random small properties: what must hold of every as-built."""

import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from invariants import check
from strategies_properties import properties, write_property

_NUMBER = itertools.count()


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    return tmp_path_factory.mktemp("properties")


@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@given(files=properties())
def test_every_as_built_keeps_its_rows_depths_buffers_and_uncertainties(root, files):
    """Rows are placed or named, depths come from readings, buffers hold runs, sigmas are positive."""
    check(write_property(files, root / f"p{next(_NUMBER)}"))
