"""Stills are named in the order of the film, by letters that every file system takes."""

from __future__ import annotations

import re

from records import make_analysis
from trackspread.film.canvas import ASPECT
from trackspread.film.storyboard import scenes
from trackspread.film.write import still_name


def test_names_sort_in_the_order_of_the_film_and_differ() -> None:
    made = scenes(make_analysis(hostile=True), ASPECT)
    names = [still_name(made, scene, shot, 1080) for scene in made for shot in scene.shots]
    assert names == sorted(names)
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"\d\d-[a-z0-9-]+-1080p\.png", name) for name in names)


def test_a_name_says_what_is_seen() -> None:
    made = scenes(make_analysis(routes=1), ASPECT)
    whole = made[0].shots[0]
    assert still_name(made, made[0], whole, 1080).endswith("-whole-1080p.png")
    assert still_name(made, made[0], whole, 2160, clear=True).endswith("-whole-transparent-2160p.png")
