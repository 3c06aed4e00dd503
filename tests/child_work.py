"""Pieces of work for a process of its own, which must find them by their module."""

from __future__ import annotations

import os
import time


def halves(total, tell):
    tell("half", 0.5)
    return total / 2


def sleeps(seconds, tell):
    time.sleep(seconds)


def fails(tell):
    raise ValueError("as asked")


def dies(tell):
    os._exit(9)
