"""Twenty people at once: no error, nothing lost, memory flat.

    python benchmarks/web_load.py [SECONDS] [USERS]

Each user edits one of five studies, looks at chapters and asks what is new, as a page does.
Results go to benchmarks/results/web_load.json.
"""

from __future__ import annotations

import json
import os
import random
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import httpx

PLACES = {"power": "kWh", "water": "m3", "labour": "h", "filtrate": "kg", "polymer": "kg"}


def resident_mb(process: int) -> float:
    """Memory a process holds (Linux)."""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def user(
    base: str, studies: list[str], until: float, times: list[float], told: Counter[str]
) -> None:
    """One person: edit, look, wait a little. No answer at all counts like a wrong one."""
    draw = random.Random(threading.get_ident())
    try:
        work(base, studies, until, times, told, draw)
    except httpx.HTTPError as error:
        told[f"no answer: {type(error).__name__}"] += 1


def work(
    base: str,
    studies: list[str],
    until: float,
    times: list[float],
    told: Counter[str],
    draw: random.Random,
) -> None:
    """As a page does it: save, ask for the chapter, look at another one, rest."""
    with httpx.Client(base_url=base, timeout=60) as client:
        session = client.get("/api/session").json()
        client.headers[session["header"]] = session["token"]
        while time.time() < until:
            study = draw.choice(studies)
            version = client.get(f"/api/studies/{study}").json()["version"]
            key = draw.choice(list(PLACES))
            edit = {
                "place": f"prices.{key}",
                "typed": f"0.{draw.randrange(10, 99)} EUR/{PLACES[key]}",
            }
            start = time.perf_counter()
            body = {"base": version, "edits": [edit]}
            answer = client.post(f"/studies/{study}/cost/edit", json=body)
            times.append(time.perf_counter() - start)
            told[f"edit {answer.status_code}"] += 1
            path = f"/studies/{study}/cost/live?version={version + 1}&stage=head"
            told[f"live {client.get(path).status_code}"] += 1
            chapter = draw.choice(("sludge", "suitability", "line", "cost", "report"))
            told[f"page {client.get(f'/studies/{study}/{chapter}').status_code}"] += 1
            time.sleep(draw.uniform(0.5, 1.5))


def main(seconds: float, users: int) -> None:
    """Start a server, let them work, write down."""
    with tempfile.TemporaryDirectory() as folder, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        code = "from cakewright.cli.serve import command; command()"
        words = ["--port", str(port), "--store", f"{folder}/s.sqlite", "--no-open", "--no-press"]
        server = subprocess.Popen([sys.executable, "-c", code, *words], stdout=subprocess.DEVNULL)
        base = f"http://127.0.0.1:{port}"
        for _ in range(300):
            try:
                httpx.get(f"{base}/api/session")
                break
            except httpx.HTTPError:
                time.sleep(0.1)
        with httpx.Client(base_url=base, timeout=60) as client:
            session = client.get("/api/session").json()
            client.headers[session["header"]] = session["token"]
            studies = [
                client.post("/api/studies", json={"demo": "soy"}).json()["id"] for _ in range(5)
            ]
        times: list[float] = []
        told: Counter[str] = Counter()
        until = time.time() + seconds
        threads = [
            threading.Thread(target=user, args=(base, studies, until, times, told))
            for _ in range(users)
        ]
        for thread in threads:
            thread.start()
        memory = []
        while time.time() < until:
            time.sleep(seconds / 12)
            memory.append(round(resident_mb(server.pid)))
        for thread in threads:
            thread.join()
        server.kill()
        server.wait()
    ordered = sorted(times)
    found = {
        "seconds": seconds,
        "users": users,
        "processors": os.cpu_count(),
        "load after": [round(x, 1) for x in os.getloadavg()],
        "answers": dict(sorted(told.items())),
        "edit ms": {
            "median": round(1000 * statistics.median(ordered)),
            "p95": round(1000 * ordered[int(0.95 * len(ordered))]),
        },
        "memory MB": memory,
        "memory growth in the second half": round(memory[-1] / memory[len(memory) // 2] - 1, 3),
        "errors": sum(n for words, n in told.items() if words.split()[-1] not in ("200", "409")),
    }
    target = Path(__file__).parent / "results" / "web_load.json"
    target.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    given = [float(word) for word in sys.argv[1:]]
    main(given[0] if given else 600.0, int(given[1]) if len(given) > 1 else 20)
