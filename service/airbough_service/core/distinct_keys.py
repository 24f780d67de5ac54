"""Whether each object of a JSON text names each of its keys once, in one pass over the bytes; compiled."""

from __future__ import annotations

from typing import Final

import numpy as np

from airbough_service.core.compiled import compiled, inlined

DEEPEST: Final = 64
AFTER: Final = b" " * 8
"""Follows the text, so that eight bytes can be looked at from any place of it."""

QUOTE, BACKSLASH, COMMA, OPEN_OBJECT, CLOSE_OBJECT, OPEN_LIST, CLOSE_LIST = 34, 92, 44, 123, 125, 91, 93
NONE, ONE, HIGH_BIT, EIGHT, HALF, TOP_BYTE = map(np.uint64, (0, 1, 7, 8, 32, 56))
ONES, HIGH_BITS = np.uint64(0x0101010101010101), np.uint64(0x8080808080808080)
QUOTES, BACKSLASHES = QUOTE * ONES, BACKSLASH * ONES
PLACES = np.uint64(0x0001020304050607)  # its byte k from the top is k
SPREADING = np.uint64(0x9E3779B97F4A7C15)
"""2**64 over the golden ratio, with which D. E. Knuth spreads keys (The Art of Computer
Programming 3, 6.4); from memory."""
FEWEST_SLOTS, FEWEST_SHIFT = 32, np.uint64(59)  # 2 to the power of 64 - 59
MOST_LOOKS = 256  # for a place in the table: only chosen keys want more


def surely_distinct(text: bytes) -> bool:
    """Return whether no object of a JSON text names a key twice; False where that is not sure.

    It is not where two keys have one hash, a key is written with an escape, or the text nests too deep.
    """
    return bool(all_distinct(text + AFTER))


@inlined
def eight_bytes(text: bytes, i: np.uint64) -> np.uint64:
    """Return eight bytes of a text as one number, the first as its lowest; the compiler loads them at once."""
    word = NONE
    for k in range(7, -1, -1):
        word = word << EIGHT | text[i + np.uint64(k)]
    return word


@inlined
def after_string(text: bytes, i: np.uint64, end: np.uint64) -> tuple[np.uint64, np.uint64, bool]:
    """Return a string's hash, the place after its closing quote and whether it has no escape.

    Eight bytes are looked at at once: one from which its high bit alone is borrowed is 0 (H. S. Warren, Hacker's
    Delight, 6-1; from memory). What was borrowed may mark bytes after the first so found, but none before.

    Args:
        text: the bytes, with those after them.
        i: the place after the opening quote.
        end: where the text ends; the place returned lies beyond it where the string does not end.
    """
    hashed, plain = NONE, True
    while i < end:
        word = eight_bytes(text, i)
        quotes, backslashes = word ^ QUOTES, word ^ BACKSLASHES
        marked = ((quotes - ONES) & ~quotes | (backslashes - ONES) & ~backslashes) & HIGH_BITS
        first = (marked & (~marked + ONE)) >> HIGH_BIT  # 1 in its place; if none is, 0, less 1 all bits
        hashed = (hashed ^ (word & (first - ONE))) * SPREADING
        if first == NONE:
            hashed ^= hashed >> HALF  # else two keys that differ in the last byte of two words might have one hash
            i += EIGHT
            continue
        i += (first * PLACES) >> TOP_BYTE
        if text[i] == QUOTE:
            return hashed, i + ONE, plain
        i, plain = i + ONE + ONE, False
    return hashed, end + ONE, plain


@inlined
def noted(table: np.ndarray, key: np.uint64, shift: np.uint64) -> bool:
    """Return whether a key was not in the table, where it is now; False where too many want its place, too."""
    slot, last = key >> shift, np.uint64(table.size - 1)
    for _ in range(MOST_LOOKS):
        if table[slot] == NONE:
            table[slot] = key
            return key != NONE
        if table[slot] == key:
            return False
        slot = (slot + ONE) & last
    return False


@compiled
def all_distinct(text: bytes) -> bool:
    """Return whether no object names a key twice, of a text with the bytes after it; False where that is not sure.

    All keys go into one table, each with the number of its object.
    """
    size, shift = FEWEST_SLOTS, FEWEST_SHIFT
    while 4 * size < len(text):  # a key with its value takes six bytes and more
        size, shift = 2 * size, shift - ONE
    table, around = np.zeros(size, np.uint64), np.empty(DEEPEST + 1, np.uint64)
    i, end = NONE, np.uint64(len(text) - len(AFTER))
    depth, own, objects, wants_key = 0, NONE, NONE, False  # own: the number of the innermost object; 0 in a list
    while i < end and depth <= DEEPEST:
        byte = text[i]
        i += ONE
        if byte == QUOTE:
            hashed, i, plain = after_string(text, i, end)
            if wants_key and not (plain and noted(table, (hashed ^ own) * SPREADING, shift)):
                return False
            wants_key = False
        elif byte == COMMA:
            wants_key = own != NONE
        elif byte in (OPEN_OBJECT, OPEN_LIST):
            around[depth], depth, wants_key = own, depth + 1, byte == OPEN_OBJECT
            if wants_key:
                objects += ONE
            own = objects if wants_key else NONE
        elif byte in (CLOSE_OBJECT, CLOSE_LIST):
            depth, wants_key = max(depth - 1, 0), False
            own = around[depth]
    return bool(i == end)
