"""The bench on three loopback sockets: meter, supply, hands. It ends when its standard input closes."""

from __future__ import annotations

import asyncio
import json
import sys
import threading
from collections.abc import Callable
from functools import partial

from ohmwright.practice.orders import Orders
from ohmwright.practice.scpi import MeterVoice, SupplyVoice
from ohmwright.practice.world import World

HOST = "127.0.0.1"
LONGEST = 100_000
"""Bytes in one line. [B]"""
Speak = Callable[[str], "str | None"]


def serve(world: World) -> None:
    """Answer until standard input closes. The first line written tells the ports."""
    asyncio.run(_serve(world))


async def _serve(world: World) -> None:
    meter, supply = MeterVoice(world), SupplyVoice(world)
    voices: dict[str, Speak] = {
        "meter": meter.speaker.answer,
        "supply": supply.speaker.answer,
        "hands": Orders(world, meter).answer,
    }
    ports: dict[str, int] = {}
    servers = []
    for name, speak in voices.items():
        server = await asyncio.start_server(partial(_talk, speak), HOST, 0, limit=LONGEST)
        ports[name] = int(server.sockets[0].getsockname()[1])
        servers.append(server)
    over = asyncio.Event()
    loop = asyncio.get_running_loop()
    threading.Thread(target=_wait_for_end, args=(loop, over), daemon=True).start()
    sys.stdout.write(json.dumps({**ports, "seed": world.seed}) + "\n")
    sys.stdout.flush()
    await over.wait()
    for server in servers:
        server.close()


async def _talk(speak: Speak, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    try:
        while line := await reader.readline():
            answer = speak(line.decode("utf-8", "replace").strip())
            if answer is not None:
                writer.write(answer.encode() + b"\n")
                await writer.drain()
    except (ConnectionError, ValueError):  # ValueError: a line without end
        return
    finally:
        writer.close()


def _wait_for_end(loop: asyncio.AbstractEventLoop, over: asyncio.Event) -> None:
    while sys.stdin.buffer.read(4096):
        continue
    loop.call_soon_threadsafe(over.set)
