"""A running application on the virtual board, its screen as text, and waiting by looking."""

from __future__ import annotations

import asyncio
from contextlib import asynccontextmanager

import pytest

from locum.jobs.desk import Setup
from locum.settings import Settings
from locum.ui.app import LocumApp
from ui_helpers import until

SPEED = 2.0
VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    """Nobody's casebook, settings or pages are touched."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture
def desk_app(tmp_path):
    """``async with desk_app(size) as (app, pilot)``: recording on the virtual van.

    ``told``: what the setup holds; nothing for somebody's first start.
    """

    @asynccontextmanager
    async def running(size=(80, 24), speed=SPEED, told=None, **settings):
        setup = Setup(
            **(VAN if told is None else told), board="virtual",
            casebook=str(tmp_path / "casebook.sqlite"), speed=speed,
        )  # fmt: skip
        app = LocumApp(setup, Settings(**settings))
        async with app.run_test(size=size) as pilot:
            await until(pilot, lambda: app.desk.snapshot().glance is not None)
            yield app, pilot
            await asyncio.to_thread(app.desk.close, 3.0)

    return running
