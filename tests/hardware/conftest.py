"""A real board on the bench: LOCUM_BOARD names its port, LOCUM_BENCH what is wired to it."""

import os

import pytest


@pytest.fixture(scope="session")
def board():
    """The board on the port that LOCUM_BOARD names, at rest before and after."""
    port = os.environ.get("LOCUM_BOARD", "")
    if not port:
        pytest.skip("LOCUM_BOARD names no port")
    from locum.link.board import Board
    from locum.link.clock import RealClock
    from locum.link.serial_port import SerialTransport

    connected = Board(SerialTransport(port), RealClock())
    connected.identify()
    connected.real_sensor_now()
    yield connected
    connected.real_sensor_now()
    connected.close()


@pytest.fixture
def bench(board):
    """The board with 5 V through 2.49 kohm on LINE and a 2 kohm resistor for a sensor."""
    if os.environ.get("LOCUM_BENCH") != "5V-2k49-2k":
        pytest.skip("LOCUM_BENCH=5V-2k49-2k says that the line has its pull-up and its sensor")
    yield board
    board.real_sensor_now()
