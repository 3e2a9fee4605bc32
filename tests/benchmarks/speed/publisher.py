"""Publish different temperatures to an MQTT broker as fast as it takes them, or at a rate.

``publisher.py PORT COUNT RATE``, with "inf" for as fast as the broker goes. The packets are those
of MQTT 3.1.1 (OASIS standard, 3.1 CONNECT, 3.3 PUBLISH, 3.4 PUBACK), written many at a time and at
QoS 1: a client library would need more of the processor than the program that is measured, and its
limits would be taken for that program's.
"""

import socket
import sys
import time

TOPIC = b"unit/t"
WINDOW = 2_000
"""Packets not yet acknowledged; their numbers end at 65535."""
AT_ONCE = 200
CONNACK_BYTES, PUBACK_BYTES = 4, 4
CONNECT = b"\x10\x10\x00\x04MQTT\x04\x02\x00\x00\x00\x04send"


def publish_packet(number: int) -> bytes:
    """Return message `number` (from 0): its temperature is a thousandth of that many °C."""
    identifier = (number % 65_535 + 1).to_bytes(2, "big")
    rest = len(TOPIC).to_bytes(2, "big") + TOPIC + identifier + b"%.3f" % (0.001 * number)
    return b"\x32" + bytes([len(rest)]) + rest


def publish(port: int, count: int, rate: float) -> None:
    """Send `count` messages at `rate` [1/s]; return when the broker has acknowledged all."""
    with socket.create_connection(("127.0.0.1", port)) as broker:
        broker.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        broker.sendall(CONNECT)
        waiting = CONNACK_BYTES
        while waiting > 0:
            waiting -= len(broker.recv(waiting))
        sent, answered, begun = 0, 0, time.perf_counter()
        while answered < PUBACK_BYTES * count:
            due = min(rate * (time.perf_counter() - begun), count)
            many = min(int(due) - sent, AT_ONCE, WINDOW - (sent - answered // PUBACK_BYTES))
            if many > 0:
                broker.sendall(b"".join(map(publish_packet, range(sent, sent + many))))
                sent += many
            elif sent > answered // PUBACK_BYTES:
                came = len(broker.recv(65_536))
                if not came:
                    sys.exit("the broker has closed the connection")
                answered += came
            else:
                time.sleep(0.002)
        broker.sendall(b"\xe0\x00")


if __name__ == "__main__":
    publish(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))
