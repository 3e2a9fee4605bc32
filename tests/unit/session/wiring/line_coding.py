"""What a serial receiver hears of a sender at another rate: bits on a line, sampled. Invented here.

Asynchronous characters 8N1: the line rests at 1; a character is a start bit 0, eight bits from the
lowest, a stop bit 1 (ANSI/TIA-404 describes the signal; from memory). A receiver waits for the line
to fall, samples each bit in its middle, and delivers what it found. Where the stop bit is not 1 the
character is broken: a terminal driver delivers it as it was sampled or as NUL.
"""


def heard_at(
    data: bytes, sent: int, received: int, *, idle_bits: int = 0, nul: bool = True
) -> bytes:
    """Return what a receiver at `received` baud makes of `data` sent at `sent` baud.

    Parameters
    ----------
    data : bytes
    sent, received : int
        [baud]
    idle_bits : int
        The line rests so long after each character, in bits of the sender.
    nul : bool
        Whether a broken character is delivered as NUL, in place of what was sampled.
    """
    bits = [1] * 12
    for byte in data:
        bits += [0, *((byte >> place) & 1 for place in range(8)), 1]
        bits += [1] * idle_bits
    bits += [1] * 24
    out = bytearray()
    step = sent / received  # sender's bits in one of the receiver's
    at = 0.0

    def level(time: float) -> int:
        return bits[int(time)] if int(time) < len(bits) else 1

    while int(at) < len(bits):
        if level(at):  # resting: on to the next bit that could be a start
            at = float(int(at) + 1)
            continue
        byte = sum(level(at + (place + 1.5) * step) << place for place in range(8))
        stop = level(at + 9.5 * step)
        out.append(byte if stop or not nul else 0)
        at += 9.5 * step
        while not stop and int(at) < len(bits) and not level(at):
            at += 0.5  # a receiver waits for the line to rise again
    return bytes(out)
