"""What holds for all tests: no user's files, hardware only when asked, no silent skips in CI."""

from __future__ import annotations

import os

import hypothesis
import pytest

hypothesis.settings.register_profile("same", derandomize=True)
if os.environ.get("CI"):
    hypothesis.settings.load_profile("same")  # the same cases each time; a desk tries new ones


@pytest.fixture(autouse=True)
def _own_folders(tmp_path_factory, monkeypatch):
    """Settings, casebook and log of the tests live in a folder of their own."""
    home = tmp_path_factory.mktemp("home")
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(home / name.lower()))


@pytest.fixture(autouse=True)
def _witness(monkeypatch, request):
    """Every virtual run that a job starts in a test is watched by the independent monitor."""
    import monitor
    from locum.jobs import connection

    watched: list[monitor.Monitor] = []
    plain = connection.virtual_connection

    def with_monitor(*arguments, **options):
        options.setdefault("monitor", lambda body: watched.append(monitor.attach(body)))
        return plain(*arguments, **options)

    monkeypatch.setattr(connection, "virtual_connection", with_monitor)
    yield
    for one in watched:
        one.assert_clean()


def pytest_collection_modifyitems(config, items):
    if os.environ.get("LOCUM_BOARD"):
        return
    skip = pytest.mark.skip(reason="needs a real board: set LOCUM_BOARD to its port")
    for item in items:
        if "hardware" in item.keywords:
            item.add_marker(skip)


def pytest_terminal_summary(terminalreporter):
    """In CI nothing may be skipped but what needs a real board."""
    skipped = [
        report
        for report in terminalreporter.stats.get("skipped", [])
        if "needs a real board" not in str(report.longrepr)
    ]
    if skipped and os.environ.get("CI"):
        for report in skipped:
            terminalreporter.write_line(f"skipped in CI: {report.nodeid}: {report.longrepr}")
        terminalreporter._session.exitstatus = 1
