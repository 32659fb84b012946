"""Which bit rate the scale speaks at, told by what can be read."""

USUAL = (9600, 19200, 4800, 2400, 38400, 115200, 57600, 1200)
ENOUGH = 9            # worth of evidence that settles it: three readings in a row, or nine lines of plain text
READING, TEXT = 3, 1
LISTEN_S = 1.5        # at most, to a rate at which bytes come and nothing can be read
BYTES, LINES = 160, 4   # … or as soon as so many have come to nothing
ASK_S = 1.0           # at most, to a rate at which a question gets no answer at all
DOUBT_S = 5.0         # a settled rate is doubted when lines have come to nothing for so long


class Guess:
    """Tries the usual rates in turn. Times are seconds of any monotonic clock, handed in.

    Silence says nothing about the rate of a scale that sends by itself, so the rate is then left alone; a scale that
    must be asked (`asked`) is silent at every rate but its own.
    """

    def __init__(self, first: int, asked: bool, now_s: float):
        self.rate = first
        self.settled = False
        self._asked = asked
        self._afresh(now_s)

    def _afresh(self, now_s: float) -> None:
        self._since_s = self._good_s = now_s
        self._worth = self._bytes = self._refused = 0

    def received(self, count: int) -> None:
        """`count` bytes came."""
        self._bytes += count

    def observe(self, reading: bool, text: bool, now_s: float) -> None:
        """A line came: it was read, or it was plain text at least, or neither."""
        if reading:
            self._good_s = now_s
        self._worth = self._worth + (READING if reading else TEXT) if reading or text else 0
        self._refused = 0 if reading or text else self._refused + 1
        self.settled = self.settled or self._worth >= ENOUGH

    def moves(self, now_s: float) -> bool:
        """Whether `rate` has just become the next one to try."""
        if self.settled:
            if self._worth == 0 and self._refused >= LINES and now_s - self._good_s > DOUBT_S:
                self.settled = False
            else:
                return False
        nothing = self._worth == 0
        spent_s = now_s - self._since_s
        if not (nothing and (self._bytes and spent_s > LISTEN_S or self._bytes > BYTES or self._refused >= LINES
                             or self._asked and not self._bytes and spent_s > ASK_S)):
            return False
        self.rate = USUAL[(USUAL.index(self.rate) + 1) % len(USUAL)] if self.rate in USUAL else USUAL[0]
        self._afresh(now_s)
        return True
