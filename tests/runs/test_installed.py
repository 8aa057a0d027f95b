"""What is installed."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError

import numpy as np

from bubblegrade.runs.installed import EXTRAS, extras, libraries


def test_python_and_every_library_that_is_needed_have_their_versions() -> None:
    found = libraries()
    assert found["Python"] == platform.python_version()
    assert found["numpy"] == np.__version__
    assert {"click", "matplotlib", "opencv-python", "pillow", "rich", "scipy"} <= set(found)
    assert not {"pytest", "scikit-image", "torch", "mitsuba", "rawpy"} & set(found)


def test_an_extra_that_is_not_installed_says_what_for_and_how() -> None:
    def missing(package: str) -> str:
        if package == "rawpy":
            raise PackageNotFoundError(package)
        return "1.2"

    heic, raw, bench, parquet, cluster = extras(missing)
    assert (heic.name, heic.version) == ("heic", "1.2")
    assert (raw.name, raw.version, raw.cure) == ("raw", None, "pip install 'bubblegrade[raw]'")
    assert (bench.name, bench.purpose) == ("bench", "the page in the browser")
    assert (parquet.package, cluster.package) == ("pyarrow", "distributed")


def test_every_extra_of_the_package_that_users_may_want_is_told() -> None:
    from importlib.metadata import metadata  # noqa: PLC0415

    offered = set(metadata("bubblegrade").get_all("Provides-Extra") or ())
    assert set(EXTRAS) == offered - {"test", "teach", "render"}
