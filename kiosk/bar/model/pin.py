"""The manager's PIN: four to eight digits, kept as a slow, salted hash, and harder to guess with every wrong try."""

import hmac
from hashlib import scrypt

from kiosk.bar.messages import Message
from kiosk.bar.model.recipe import Unfit

LEAST, MOST = 4, 8
COST, BLOCK, LANES = 2 ** 15, 8, 1      # scrypt's N, r, p (RFC 7914): 32 MB, half a second on a small board
MEMORY = 2 * 128 * COST * BLOCK
FREE_TRIES = 3
FIRST_WAIT_S, LONGEST_WAIT_S = 5.0, 900.0


def hashed(pin: str, salt: bytes) -> dict:
    """What is kept of `pin`, for `fits`: JSON can hold it. Raises Unfit where it is not four to eight digits."""
    if not (LEAST <= len(pin) <= MOST and pin.isascii() and pin.isdigit()):
        raise Unfit(Message("A PIN has {LEAST} to {MOST} digits. Choose another.", LEAST=LEAST, MOST=MOST))
    return {"salt": salt.hex(), "hash": _hash(pin, salt, COST, BLOCK, LANES).hex(), "cost": [COST, BLOCK, LANES]}


def matches(pin: str, kept: dict) -> bool:
    """Whether `pin` is the one that was hashed; in a time that tells nothing of how near it was."""
    found = _hash(pin, bytes.fromhex(kept["salt"]), *kept["cost"])
    return hmac.compare_digest(found, bytes.fromhex(kept["hash"]))


def wait_s(wrong: int) -> float:
    """Seconds to wait after `wrong` tries in a row that did not fit: none for the first three, then doubling."""
    if wrong < FREE_TRIES:
        return 0.0
    return min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** min(wrong - FREE_TRIES, 20))


def _hash(pin: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    return scrypt(pin.encode(), salt=salt, n=cost, r=block, p=lanes, maxmem=MEMORY, dklen=32)
