"""The kernel that waits for the next notebook."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest

from blendkit.workbook import kernels
from blendkit.workbook.kernels import KernelAhead
from blendkit.workbook.notebooks import FOLDER

PATIENCE = 60  # seconds


async def until(found):
    for _ in range(PATIENCE * 20):
        if found():
            return
        await asyncio.sleep(0.05)
    raise AssertionError("waited in vain")


async def value_of(manager, kernel, expression):
    client = manager.get_kernel(kernel).client()
    client.start_channels()
    try:
        await client.wait_for_ready(timeout=PATIENCE)
        asked = client.execute("", silent=True, user_expressions={"it": expression})
        while (answer := await client.get_shell_msg(timeout=PATIENCE))["parent_header"][
            "msg_id"
        ] != asked:
            pass
        return answer["content"]["user_expressions"]["it"]["data"]["text/plain"]
    finally:
        client.stop_channels()


def listed(manager):
    return {each["id"] for each in manager.list_kernels()}


@pytest.fixture
def in_a_server(tmp_path, monkeypatch):
    """Run a coroutine with the manager of a server over a folder of notebooks."""
    monkeypatch.setattr(kernels, "PAUSE_SECONDS", 0.0)
    (tmp_path / FOLDER).mkdir()

    async def run(work):
        manager = KernelAhead(root_dir=str(tmp_path), connection_dir=str(tmp_path))
        try:
            await until(lambda: manager._is_ready)
            await work(manager)
        finally:
            await manager.shutdown_all(now=True)

    # a page test before this one may have left its loop in this thread
    return lambda work: ThreadPoolExecutor().submit(asyncio.run, run(work)).result()


def test_the_next_notebook_of_the_workbook_gets_the_kernel_that_waits(in_a_server, tmp_path):
    async def work(manager):
        waiting = manager._waiting
        assert not listed(manager)
        taken = await manager.start_kernel(path=FOLDER, kernel_name="python3")
        assert taken == waiting
        assert listed(manager) == {taken}
        ready = "'blendkit.panels.bottle.panel' in __import__('sys').modules"
        assert await value_of(manager, taken, ready) == "True"
        place = "__import__('os').getcwd()"
        assert await value_of(manager, taken, place) == repr(str(tmp_path / FOLDER))
        left = "[n for n in dir() if not n.startswith('_') and n not in ('In', 'Out')]"
        assert "get_ready" not in await value_of(manager, taken, left)
        # asked for while the next one starts, as JupyterLab does: it knows no activity yet
        await until(lambda: listed(manager) == {taken} and manager._is_ready)
        assert manager._waiting != taken

    in_a_server(work)


def test_other_folders_and_kernels_and_a_dead_one_start_their_own(in_a_server, tmp_path):
    async def work(manager):
        waiting = manager._waiting
        (tmp_path / "mine").mkdir()
        elsewhere = await manager.start_kernel(path="mine")
        assert elsewhere != waiting == manager._waiting
        await manager.shutdown_kernel(waiting, now=True)
        fresh = await manager.start_kernel(path=FOLDER)
        assert fresh != waiting
        assert listed(manager) == {elsewhere, fresh}
        await until(lambda: manager._is_ready)

    in_a_server(work)


def test_a_workbook_that_ends_leaves_no_kernel_that_was_just_starting(in_a_server):
    async def work(manager):
        begun = manager._waiting
        await manager.start_kernel(path=FOLDER)
        while manager._waiting in (None, begun):
            await asyncio.sleep(0)  # until the next one is on its way
        assert not manager._is_ready
        await manager.shutdown_all(now=True)
        await asyncio.sleep(2)
        assert manager.list_kernel_ids() == []

    in_a_server(work)
