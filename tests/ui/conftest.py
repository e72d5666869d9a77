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


@pytest.fixture
def desk_app(tmp_path):
    """``async with desk_app(size) as (app, pilot)``: recording on the virtual van."""

    @asynccontextmanager
    async def running(size=(80, 24), **settings):
        setup = Setup(
            sensor="parcel_van_coolant", module="parcel_van_engine", vehicle="parcel_van",
            board="virtual", casebook=str(tmp_path / "casebook.sqlite"), speed=SPEED,
        )  # fmt: skip
        app = LocumApp(setup, Settings(**settings))
        async with app.run_test(size=size) as pilot:
            await until(pilot, lambda: app.desk.snapshot().glance is not None)
            yield app, pilot
            await asyncio.to_thread(app.desk.close, 3.0)

    return running
