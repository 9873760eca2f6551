"""A time server (RFC 5905, section 7.3) on the guest's loopback that knows the right time, whatever
the guest's own clock says.

time_server.py PORT UTC_NS     UTC_NS: what is right as it starts
"""

import socket
import struct
import sys
import time

FROM_1900 = 2_208_988_800  # s, to 1970
SERVER_MODE, VERSION, STRATUM, PRECISION = 4, 4, 1, -20


def stamp(utc_ns: int) -> bytes:
    seconds, rest = divmod(utc_ns, 1_000_000_000)
    return struct.pack("!II", (seconds + FROM_1900) & 0xFFFFFFFF, (rest << 32) // 1_000_000_000)


def main(port: int, utc_ns: int) -> None:
    ahead = utc_ns - time.monotonic_ns()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as link:
        link.bind(("127.0.0.1", port))
        while True:
            asked, whom = link.recvfrom(512)
            came = stamp(time.monotonic_ns() + ahead)
            head = struct.pack("!BBbb", VERSION << 3 | SERVER_MODE, STRATUM, asked[2], PRECISION)
            told = head + struct.pack("!II4s", 0, 16, b"TEST") + came + asked[40:48] + came
            link.sendto(told + stamp(time.monotonic_ns() + ahead), whom)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
