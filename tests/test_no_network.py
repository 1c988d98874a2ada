"""A build asks nobody: no name is looked up, no address is opened, by Python or below it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

DATA = Path(__file__).parent.parent / "data"
FORMATS = ("geopackage", "geojson", "findings", "schedule", "webmap", "sheets", "dxf", "kml", "kmz")
WATCHED = """
import sys

def watch(event, arguments):
    if event in {"socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"}:
        sys.stderr.write(f"ASKED {event} {arguments}\\n")
        sys.exit(9)

sys.addaudithook(watch)
from pyproj.network import is_network_enabled
assert not is_network_enabled()
from wiremap.cli.main import run
run(sys.argv[1:])
"""


@pytest.fixture
def proxy():
    """Return the address of a proxy for all requests, and what was asked of it."""
    asked = []
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.1)
        done = threading.Event()

        def listen():
            while not done.is_set():
                try:
                    connection, _ = server.accept()
                except TimeoutError:
                    continue
                with connection:
                    asked.append(connection.recv(200))

        thread = threading.Thread(target=listen)
        thread.start()
        yield f"http://127.0.0.1:{server.getsockname()[1]}", asked
        done.set()
        thread.join()


def run(words, address):
    """Run Python with every proxy setting that curl knows, and PROJ's network left alone."""
    names = ("http_proxy", "https_proxy", "HTTPS_PROXY", "ALL_PROXY", "GDAL_HTTP_PROXY")
    settings = {k: v for k, v in os.environ.items() if k not in {"PROJ_NETWORK", "NO_PROXY"}}
    settings |= dict.fromkeys(names, address)
    words = [sys.executable, "-c", *words]
    return subprocess.run(words, env=settings, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("name", ["hollow-oak-garden", "ridge-terrace"])
def test_a_build_of_every_format_asks_nobody(tmp_path, proxy, name):
    """Audit hooks watch Python (PEP 578); a proxy watches the libraries below it."""
    address, asked = proxy
    words = [WATCHED, "build", str(DATA / name), "-o", str(tmp_path / "out")]

    done = run([*words, *(f"--format={f}" for f in FORMATS)], address)

    assert done.returncode in {0, 1}, done.stderr
    assert "ASKED" not in done.stderr
    assert asked == []


def test_the_watch_would_see_a_request_of_the_libraries(proxy):
    """GDAL told to open an address asks the proxy: the watch is no blind one."""
    address, asked = proxy
    code = (
        "import pyogrio\ntry:\n"
        "    pyogrio.list_layers('/vsicurl/http://nowhere.invalid/x.geojson')\n"
        "except Exception:\n    pass\n"
    )
    run([code], address)
    assert asked
    assert b"nowhere.invalid" in asked[0]
