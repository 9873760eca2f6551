"""The guest's end of the handle: runs what it is told, each command in a thread of its own.

One JSON object a line over a virtio serial port: {"id", "run": [words], "input": text or null,
"seconds"} is answered by {"id", "code", "out", "err"}. `code` is null where the time was up. Where
`run` names a Unix socket as "unix:PATH", the input is sent there, and one line of answer is `out`.
"""

import contextlib
import json
import os
import socket
import subprocess
import sys
import threading

PATH = "/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
_answering = threading.Lock()


def main(port: str) -> None:
    descriptor = os.open(port, os.O_RDWR)
    tell(descriptor, {"id": 0, "code": 0, "out": "here", "err": ""})
    rest = b""
    while True:
        data = os.read(descriptor, 65536)
        if not data:  # nobody at the other end
            threading.Event().wait(0.05)
            continue
        *lines, rest = (rest + data).split(b"\n")
        for line in lines:
            with contextlib.suppress(ValueError):  # a line cut by whoever came before
                asked = json.loads(line)
                threading.Thread(target=carry_out, args=(descriptor, asked), daemon=True).start()


def carry_out(descriptor: int, asked: dict) -> None:
    answer = {"id": asked["id"], "code": None, "out": "", "err": ""}
    try:
        if asked["run"][0].startswith("unix:"):
            answer |= {"code": 0, "out": said_to(asked)}
            tell(descriptor, answer)
            return
        done = subprocess.run(
            asked["run"],
            input=asked["input"],
            capture_output=True,
            text=True,
            errors="replace",
            timeout=asked["seconds"],
            env={"PATH": PATH, "LC_ALL": "C.UTF-8", "HOME": "/root"},
        )
        answer |= {"code": done.returncode, "out": done.stdout, "err": done.stderr}
    except (subprocess.TimeoutExpired, TimeoutError):
        pass
    except OSError as fault:
        answer |= {"code": 127, "err": str(fault)}
    tell(descriptor, answer)


def said_to(asked: dict) -> str:
    with socket.socket(socket.AF_UNIX) as link:
        link.settimeout(asked["seconds"])
        link.connect(asked["run"][0].removeprefix("unix:"))
        link.sendall(asked["input"].encode())
        with link.makefile() as stream:
            return stream.readline()


def tell(descriptor: int, answer: dict) -> None:
    data = json.dumps(answer).encode() + b"\n"
    with _answering:
        while data:
            data = data[os.write(descriptor, data) :]


if __name__ == "__main__":
    main(sys.argv[1])
