"""The map of a still: nothing that is written on it covers anything else."""

from __future__ import annotations

import itertools

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from records import make_analysis
from trackspread.film.canvas import ASPECT, Ground
from trackspread.film.still_map import draw_ground, map_axes
from trackspread.film.stills import LOOK, new_figure
from trackspread.film.storyboard import scenes
from trackspread.report.drawing import drawing


@pytest.mark.parametrize("seed", range(4))
def test_names_of_stations_do_not_cover_each_other(seed: int) -> None:
    """By the extents that the drawing library measures, in pixels."""
    for scene in scenes(make_analysis(seed=seed), ASPECT):
        for shot in scene.shots[:3]:
            with drawing(LOOK):
                figure = new_figure(Ground())
                axes = map_axes(figure)
                draw_ground(axes, scene, shot, Ground())
                FigureCanvasAgg(figure).draw()
                boxes = [text.get_window_extent() for text in axes.texts]
            assert len(boxes) >= 2
            assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))
