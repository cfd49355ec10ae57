"""The senders of `takes_at_once`, in a process of their own (`main`: FILE), and a server that does nothing with what it is sent
(`main`: nowhere PORT).

So what sending costs the machine is told apart from what the site does with it, and the threads of the players are not held up by
those of the senders. The file is JSON: {port, path, senders: [{cookie, fields, sound: path}]}. Prints JSON: {times: [ms], turned_away,
errors, used: seconds of processor}.
"""

from __future__ import annotations

import json
import random
import sys
import threading
import time
import uuid
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from tests.bench.load import Visitor

PATIENCE, FIRST_WAIT = 120.0, 2.0
AWAY_BEFORE = 3  # how often the server that does nothing turns somebody away first, about as often as the site


def main() -> None:
    if sys.argv[1] == "nowhere":
        ThreadingHTTPServer(("127.0.0.1", int(sys.argv[2])), Nowhere).serve_forever()
    asked = json.loads(Path(sys.argv[1]).read_text())
    found: dict[str, Any] = {"times": [], "turned_away": 0, "errors": []}
    jobs = [(one, *form(one["fields"], Path(one["sound"]).read_bytes())) for one in asked["senders"]]
    start = time.process_time()
    threads = [threading.Thread(target=send, args=(asked, found, *job)) for job in jobs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    print(json.dumps(found | {"used": time.process_time() - start}))


def send(asked: dict[str, Any], found: dict[str, Any], one: dict[str, Any], body: bytes, kind: str) -> None:
    """Until it is taken, as the page does: turned away, it comes again."""
    visit = Visitor(asked["port"], one["cookie"])
    visit.connection.timeout = PATIENCE
    start, status, said = time.perf_counter(), 429, b""
    while status == 429:
        visit.connection.request("POST", asked["path"], body, visit.headers | {"Content-Type": kind})
        response = visit.connection.getresponse()
        status, said = response.status, response.read()
        if status == 429:
            found["turned_away"] += 1
            time.sleep(FIRST_WAIT * (0.5 + random.random()))
    if status != 201:
        found["errors"].append(f"take: {status} {said[:200]!r}")
    found["times"].append((time.perf_counter() - start) * 1000)


def form(fields: dict[str, Any], sound: bytes) -> tuple[bytes, str]:
    """A form with a file as a browser sends it (RFC 7578), and its media type."""
    line = uuid.uuid4().hex
    parts = [
        f'--{line}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    head = f'--{line}\r\nContent-Disposition: form-data; name="file"; filename="take.webm"\r\nContent-Type: audio/webm\r\n\r\n'
    body = b"".join([*parts, head.encode(), sound, f"\r\n--{line}--\r\n".encode()])
    return body, f"multipart/form-data; boundary={line}"


class Nowhere(BaseHTTPRequestHandler):
    """Reads what it is sent; says 429 the first few times on a connection, then 201."""

    protocol_version = "HTTP/1.1"
    seen = 0

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self.seen += 1
        self.send_response(429 if self.seen <= AWAY_BEFORE else 201)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_: Any) -> None:
        """Nothing."""
