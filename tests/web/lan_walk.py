"""A walk of other devices to a bench page with --lan; run alone in a network of its own (see test_lan)."""

from __future__ import annotations

import http.client
import re
import subprocess
import sys
import time
import urllib.parse

BENCH = "192.0.2.1"  # RFC 5737: for documentation; here an address of the loopback device of an own network


def asked(port, source, method, path, cookie="", **more):
    """Return status, headers and text of one request from a source address."""
    connection = http.client.HTTPConnection(BENCH, port, timeout=20, source_address=(source, 0))
    headers = {"Cookie": cookie} if cookie else {}
    headers |= more.get("headers", {})
    body = None
    if "form" in more:
        body = urllib.parse.urlencode(more["form"])
        headers["Content-Type"] = "application/x-www-form-urlencoded"
    connection.request(method, path, body, headers)
    answer = connection.getresponse()
    text = answer.read().decode()
    connection.close()
    return answer.status, answer.headers, text


def entry(port, source):
    """Return the cookie and the token of a device that sees the page of pairing."""
    _, headers, text = asked(port, source, "GET", "/pair")
    return headers["set-cookie"].partition(";")[0], re.search(r'name="token" value="(\w+)"', text)[1]


def pair(port, source, code):
    """Return status, headers and the cookie of before of a try to pair."""
    cookie, token = entry(port, source)
    form = {"token": token, "code": code}
    status, headers, _ = asked(port, source, "POST", "/pair", cookie, form=form)
    return status, headers, cookie


def walk(port, code):
    """Do what an honest and a dishonest device would; each line is a rule of the page."""
    honest, guessing = "192.0.2.7", "192.0.2.8"
    status, headers, _ = asked(port, honest, "GET", "/jobs/1/weigh")
    assert (status, headers["location"]) == (303, "/pair"), "nothing is shown before pairing"
    assert asked(port, honest, "GET", "/api/jobs")[0] == 401
    assert asked(port, honest, "GET", "/devices")[0] == 303, "the code is not shown to other devices"
    assert [pair(port, guessing, "22222222")[0] for _ in range(6)] == [403] * 5 + [429]
    status, headers, _ = pair(port, guessing, code)
    assert status == 429, "not even the right code, while the address waits"
    assert int(headers["retry-after"]) > 0
    cookie, _ = entry(port, honest)
    assert asked(port, honest, "POST", "/pair", cookie, form={"token": "0" * 64, "code": code})[0] == 403
    status, headers, before = pair(port, honest, code.lower())
    said = headers["set-cookie"]
    paired = said.partition(";")[0]
    assert status == 303
    assert paired != before, "a new session, not the one from before"
    assert "HttpOnly" in said
    assert "SameSite=Strict" in said
    status, headers, text = asked(port, honest, "GET", "/jobs/1/weigh", paired)
    assert status == 200
    assert headers["content-security-policy"].startswith("default-src 'none'")
    assert asked(port, honest, "GET", "/jobs/1/weigh", before)[0] == 303, "the old session is not let in"
    assert asked(port, honest, "GET", "/devices", paired)[0] == 404
    assert asked(port, honest, "GET", "/", paired, headers={"Host": "evil.example"})[0] == 421
    token = re.search(r'name="token" value="(\w+)"', text)[1]
    sequence = re.search(r'data-sequence="(\d+)"', text)[1]
    form = {"token": token, "expected": sequence, "weighed.force_gf": "1.79"}
    path = "/jobs/1/weigh/step/weighed"
    foreign = {"Origin": "http://evil.example"}
    assert asked(port, honest, "POST", path, paired, form=form, headers=foreign)[0] == 403
    assert asked(port, honest, "POST", path, paired, form={**form, "token": ""})[0] == 403
    assert asked(port, honest, "POST", path, form=form)[0] == 401, "without the cookie"
    assert asked(port, honest, "POST", path, paired, form=form)[0] == 303
    assert f"step {int(sequence) + 1}<" in asked(port, honest, "GET", "/jobs/1/weigh", paired)[2]
    assert pair(port, "192.0.2.9", code)[0] == 403, "each code works once"


def main(place):
    """Start the page for other devices, walk, and end it."""
    command = [
        sys.executable,
        "-u",
        "-m",
        "groovewright",
        "serve",
        "--lan",
        "--port",
        "0",
        "--database",
        place,
    ]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        lines = [server.stdout.readline() for _ in range(3)]
        port = int(re.search(r":(\d+)/", lines[0])[1])
        found = re.search(r"http://([\d.]+):\d+/pair with the code (\w{4}) (\w{4})", lines[2])
        assert found[1] == BENCH, lines
        for _ in range(200):
            try:
                asked(port, "192.0.2.7", "GET", "/pair")
                break
            except OSError:
                time.sleep(0.1)
        walk(port, found[2] + found[3])
        sys.stdout.write("walked\n")
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    main(sys.argv[1])
