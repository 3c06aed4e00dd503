"""Limits of agreement against the worked examples of Bland and Altman."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trackspread.pairs.agreement import Agreement, linked_replicates
from trackspread.statistics.spread import across_rides

# Peak expiratory flow, l/min, 17 subjects, first readings of two meters:
# Bland & Altman, Lancet 1986;i:307-310.
LARGE = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427.0])
SMALL = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451.0])

# Systolic blood pressure, mmHg, 85 subjects, three readings by observer J and by machine S:
# Bland & Altman, Stat Methods Med Res 1999;8:135-160, table 1.
OBSERVER = (
    "100 106 107, 108 110 108, 76 84 82, 108 104 104, 124 112 112, 122 140 124, 116 108 102, "
    "114 110 112, 100 108 112, 108 92 100, 100 106 104, 108 112 122, 112 112 110, 104 108 104, "
    "106 108 102, 122 122 114, 100 102 102, 118 118 120, 140 134 138, 150 148 144, 166 154 154, "
    "148 156 134, 174 172 166, 174 166 150, 140 144 144, 128 134 130, 146 138 140, 146 152 148, "
    "220 218 220, 208 200 192, 94 84 86, 114 124 116, 126 120 122, 124 124 132, 110 120 128, 90 90 94, "
    "106 106 110, 218 202 208, 130 128 130, 136 136 130, 100 96 88, 100 98 88, 124 116 122, "
    "164 168 154, 100 102 100, 136 126 122, 114 108 122, 148 120 132, 160 150 148, 84 92 98, "
    "156 162 152, 110 98 98, 100 106 106, 100 102 94, 86 74 76, 106 100 110, 108 110 106, 168 188 178, "
    "166 150 154, 146 142 132, 204 198 188, 96 94 86, 134 126 124, 138 144 140, 134 136 142, "
    "156 160 154, 124 138 138, 114 110 114, 112 116 122, 112 116 134, 202 220 228, 132 136 134, "
    "158 162 152, 88 76 88, 170 174 176, 182 176 180, 112 114 124, 120 118 120, 110 108 106, "
    "112 112 106, 154 134 130, 116 112 94, 108 110 114, 106 98 100, 122 112 112"
)
MACHINE = (
    "122 128 124, 121 127 128, 95 94 98, 127 127 135, 140 131 124, 139 142 136, 122 112 112, "
    "130 129 135, 119 122 122, 126 113 111, 107 113 111, 123 125 125, 131 129 122, 123 126 114, "
    "127 119 126, 142 133 137, 104 116 115, 117 113 112, 139 127 113, 143 155 133, 181 170 166, "
    "149 156 140, 173 170 154, 160 155 170, 158 152 154, 139 144 141, 153 150 154, 138 144 131, "
    "228 228 226, 190 183 184, 103 99 106, 131 131 124, 131 123 124, 126 129 125, 121 114 125, "
    "97 94 96, 116 121 127, 215 201 207, 141 133 146, 153 143 138, 113 107 102, 109 105 97, "
    "145 102 137, 192 178 171, 112 116 116, 152 144 147, 141 141 137, 206 188 166, 151 147 136, "
    "112 125 124, 162 165 189, 117 118 109, 119 131 124, 136 116 113, 112 115 104, 120 118 132, "
    "117 118 115, 194 191 196, 167 160 161, 173 161 154, 228 218 189, 77 89 101, 154 156 141, "
    "154 155 148, 145 154 166, 200 180 179, 188 147 139, 149 217 192, 136 132 133, 128 125 142, "
    "204 222 224, 184 187 192, 163 160 152, 93 88 88, 178 181 181, 202 199 195, 162 166 148, "
    "227 227 219, 133 127 126, 202 190 213, 158 121 134, 124 149 137, 114 118 126, 137 135 134, "
    "121 123 128"
)


def readings(text: str) -> np.ndarray:
    return np.array([list(map(float, subject.split())) for subject in text.split(",")])


def single_readings(a: np.ndarray, b: np.ndarray) -> Agreement:
    found = linked_replicates((a - b)[:, None])
    assert found is not None
    return found


def test_single_readings_as_published_in_1986() -> None:
    """Mean -2.1, SD 38.8 as printed in the paper; further digits as recomputed from its 17 pairs."""
    found = single_readings(LARGE, SMALL)
    assert found.bias == pytest.approx(-2.117647, abs=1e-5)
    assert found.sd == pytest.approx(38.76513, abs=1e-4)
    assert (found.low, found.high) == pytest.approx((-78.0973, 73.86201), abs=1e-3)


def test_first_readings_as_published_in_1999() -> None:
    """Mean -16.29, SD 19.61, limits -54.7 to 22.1 (the paper, from the first readings)."""
    found = single_readings(readings(OBSERVER)[:, 0], readings(MACHINE)[:, 0])
    assert (found.bias, found.sd) == pytest.approx((-16.29, 19.61), abs=0.005)
    assert (found.low, found.high) == pytest.approx((-54.7, 22.1), abs=0.05)


def test_replicates_as_published_in_1999() -> None:
    """Within-subject variances 37.408 and 83.141, corrected SD 20.95, limits -56.68 to 25.44 (the paper).

    Its readings by J and S were not taken together: over the three ways to pair them in turn, what paired
    readings have in common cancels, and the mean variance is the paper's 438.86.
    """
    observer, machine = readings(OBSERVER), readings(MACHINE)
    subject = np.repeat(np.arange(85), 3)
    within = [float(across_rides(by.reshape(-1, 1), subject)[1][0]) for by in (observer, machine)]
    assert within == pytest.approx([37.408, 83.141], abs=5e-4)
    paired = [linked_replicates(observer - np.roll(machine, turn, axis=1)) for turn in range(3)]
    assert all(paired)
    bias, sd = np.mean([p.bias for p in paired if p]), np.sqrt(np.mean([p.sd**2 for p in paired if p]))
    assert sd**2 == pytest.approx(438.86, abs=0.005)
    assert (bias - 1.96 * sd, bias + 1.96 * sd) == pytest.approx((-56.68, 25.44), abs=0.005)


def test_linked_replicates_follow_the_analysis_of_variance() -> None:
    """Components by hand from the one-way table that scipy's F test is formed of."""
    from scipy import stats

    rng = np.random.default_rng(3)
    difference = rng.normal(0.0, 2.0, (30, 1)) + rng.normal(1.0, 3.0, (30, 4))
    within = np.mean(np.var(difference, axis=1, ddof=1))
    between = stats.f_oneway(*difference).statistic * within
    found = linked_replicates(difference)
    assert found is not None
    assert found.bias == pytest.approx(difference.mean())
    assert found.sd**2 == pytest.approx(within + (between - within) / 4)


def test_linked_replicates_find_the_spread_of_single_differences() -> None:
    rng = np.random.default_rng(5)
    difference = rng.normal(0.0, 2.0, (4000, 1)) + rng.normal(1.0, 3.0, (4000, 4))
    difference[rng.random(difference.shape) < 0.3] = np.nan
    found = linked_replicates(difference)
    assert found is not None
    assert found.sd == pytest.approx(np.sqrt(13.0), rel=0.02)


def test_nothing_to_agree_on() -> None:
    assert linked_replicates(np.full((5, 3), np.nan)) is None
    assert linked_replicates(np.array([[1.0, 2.0]])) is None


@given(st.floats(-1e3, 1e3), st.floats(0.01, 100.0))
def test_shift_and_scale_carry_through(shift: float, scale: float) -> None:
    difference = np.array([[1.0, 2.5, np.nan], [0.0, -1.0, 2.0], [3.0, np.nan, 1.0]])
    one, other = linked_replicates(difference), linked_replicates(scale * difference + shift)
    assert one is not None
    assert other is not None
    assert other.bias == pytest.approx(scale * one.bias + shift, abs=1e-6)
    assert other.sd == pytest.approx(scale * one.sd, rel=1e-6)
