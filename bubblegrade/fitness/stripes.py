"""Periodic light: bands of a flickering lamp, and the grid of a screen or of lamps behind the casting.

A wave seldom lies on a step of the spectrum, where alone the spectrum shows its whole strength: the Fourier sum is
taken again at places between steps. What averaging or a running mean took before is known there, and is put back.
"""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from bubblegrade.casting.outline import Mask
from bubblegrade.fitness.check import Limit, Measured, Place, Test
from bubblegrade.fitness.places import box, boxes
from bubblegrade.fitness.view import View
from bubblegrade.photo.light import Light
from bubblegrade.quantiles import median

Floats = NDArray[np.float64]

FAINTEST: Final = 1e-3  # of full scale: darker light is taken as this
LINES: Final = 64  # strips that a profile is taken over
THREADS: Final = 6  # columns, or rows, that make up a strip
LEAST_LINES: Final = 6  # of them that must show bare light
LEAST_ROWS: Final = 0.5  # share of the profile that must be known
LEAST_BANDS: Final = 3  # over the frame: fewer are an uneven light
LEAST_PERIOD_PX: Final = 4
TIMES_OTHER: Final = 3.0  # bands lie along one side of the sensor: across it the swing is less than this part
OVER_FLOOR: Final = 6.0  # amplitude of a peak over the median of the spectrum
MOST_BANDS_SHOWN: Final = 24

TILE_PX: Final = 128
MOST_TILES: Final = 6
BROADEST: Final = 4  # cycles over a tile: fewer are an uneven light, or seen in the coarse picture
JPEG_PX: Final = 8  # side of a block of JPEG, whose period is not the light's (ISO/IEC 10918-1)
LEAST_CYCLES: Final = 4  # of a broad pattern over the frame
ALONG: Final = 2  # cycles across its direction: waves with fewer may be bands
STEPS: Final = 24  # of one band, over which all are laid upon each other to see their form: finer ones pass for sines
SURELY: Final = 0.7  # of what a sine leaves unexplained: another form must leave less
BETWEEN: Final = np.linspace(-0.5, 0.5, 9)  # cycles off a step of the spectrum


def bands(view: View) -> Measured:
    """Measure the swing of bands over the whole frame, from dark to bright, as a share of the light."""
    if view.behind is None or not view.bare.any():
        return Measured(math.nan, "too little bare light is seen")
    level = np.log(np.maximum(view.behind, FAINTEST))
    swings = [_strongest(_profile(view, level, axis)) for axis in (0, 1)]
    if any(math.isnan(swing) for swing, _, _ in swings):
        return Measured(math.nan, "too little bare light is seen")
    axis = int(swings[1][0] > swings[0][0])
    swing, cycles, phase = swings[axis]
    if swing < TIMES_OTHER * swings[1 - axis][0]:
        return Measured(0.0)
    period = view.light.shape[axis] / cycles
    said = f"{('level', 'upright')[axis]} bands of {100 * swing:.1f} % every {period:.0f} px"
    return Measured(swing, said, _lines(view, axis, period, phase))


def pattern(view: View) -> Measured:
    """Measure the swing of the strongest pattern in the bare light, from dark to bright, as a share of it."""
    if not view.bare.any():
        return Measured(math.nan, "no bare light is seen apart from the casting, and its voids look like a pattern")
    corners = _bare_tiles(view)
    fine = _fine_swing(view, corners)
    broad = math.nan if view.behind is None else _broad_swing(view, view.behind)
    if math.isnan(fine) and math.isnan(broad):
        return Measured(math.nan, "too little bare light is seen")
    if math.isnan(broad) or fine >= broad:
        place = boxes([(x, y, x + TILE_PX - 1, y + TILE_PX - 1) for y, x in corners])
        return Measured(fine, f"a fine grid of {100 * fine:.1f} % lies over the light", place)
    rows, cols = view.light.shape
    return Measured(broad, f"the light ripples by {100 * broad:.1f} %", box(0, 0, cols - 1, rows - 1))


def _profile(view: View, level: Floats, axis: int) -> Floats:
    """Return the light along the rows (0) or columns (1), log over its level, NaN where too little is seen."""
    rows, cols = view.light.shape
    size = (LINES, rows) if axis == 0 else (cols, LINES)
    every = max(1, view.light.shape[1 - axis] // (LINES * THREADS))
    some = view.light[:, ::every] if axis == 0 else view.light[::every]
    strips = cv2.resize(some, size, interpolation=cv2.INTER_AREA)
    known = cv2.resize(view.seen.astype(np.float32), size, interpolation=cv2.INTER_LINEAR) > 0.99  # noqa: PLR2004
    over = np.where(known, np.log(np.maximum(strips, FAINTEST)) - cv2.resize(level, size), 0.0)
    count = known.sum(axis=1 - axis)
    mean = over.sum(axis=1 - axis, dtype=np.float64) / np.maximum(count, 1)
    return np.where(count >= LEAST_LINES, mean, np.nan)


def _strongest(line: Floats) -> tuple[float, float, float]:
    """Return the swing of the strongest wave along a line, its cycles over the line and its phase; NaN if unknown."""
    known = np.isfinite(line)
    if known.mean() < LEAST_ROWS:
        return math.nan, 1.0, 0.0
    smooth = max(1, len(line) // LEAST_BANDS // 2) | 1
    weight = known * np.hanning(len(line) + 2)[1:-1]
    bare = np.where(known, line, 0.0)
    kernel = np.ones(smooth)
    level = np.convolve(bare, kernel, "same") / np.maximum(np.convolve(known, kernel, "same"), 1.0)
    rest = (bare - level) * weight
    seen = 4.0 * np.abs(np.fft.rfft(rest)) / weight.sum()
    tops = np.concatenate([[False], (seen[1:-1] >= seen[:-2]) & (seen[1:-1] >= seen[2:]), [False]])
    counted = np.ones(len(seen), bool)
    counted[:LEAST_BANDS] = False
    counted[len(line) // LEAST_PERIOD_PX :] = False
    for multiple in range(1, JPEG_PX):
        at = round(len(line) * multiple / JPEG_PX)
        counted[at - 1 : at + 2] = False
    swing = np.where(counted & tops, seen / _left_by_mean(np.arange(len(seen)) / len(line), smooth), 0.0)
    best = int(np.argmax(swing))
    if not swing[best] or seen[best] <= OVER_FLOOR * float(np.median(seen[counted])):
        return 0.0, 1.0, 0.0
    waves = _around(rest[:, None], best, 0)[:, 0]
    finest = int(np.argmax(np.abs(waves)))
    cycles = best + float(BETWEEN[finest])
    left = float(_left_by_mean(np.array(cycles / len(line)), smooth))
    sine, phase = 4.0 * float(np.abs(waves[finest])) / float(weight.sum()) / left, float(np.angle(waves[finest]))
    return sine * _over_sine(bare, weight, len(line) / cycles, phase), cycles, phase


def _over_sine(line: Floats, weight: Floats, period_px: float, phase: float) -> float:
    """Return the swing of bands over that of the sine wave in them, by the form that they show.

    Fourier's series begins with 4 / pi of the swing of square bands and with 8 / pi^2 of that of triangular ones.
    """
    if period_px < STEPS:
        return 1.0
    wide = np.ones(round(period_px))
    rest = line - np.convolve(line, wide, "same") / np.maximum(np.convolve(weight > 0, wide, "same"), 1.0)
    step = (np.arange(len(line)) / period_px % 1.0 * STEPS).astype(np.intp)
    count, summed = (np.bincount(step, values, minlength=STEPS) for values in (weight, weight * rest))
    seen = summed / np.maximum(count, np.finfo(float).tiny)
    wave = np.cos(2.0 * np.pi * (np.arange(STEPS) + 0.5) / STEPS + phase)
    forms = {1.0: wave, np.pi / 4.0: np.sign(wave), np.pi**2 / 8.0: 1.0 - np.arccos(wave) * 2.0 / np.pi}
    left = {over: float(((seen - form * (seen @ form) / (form @ form)) ** 2).sum()) for over, form in forms.items()}
    best = min(left, key=lambda over: left[over])
    return best if left[best] < SURELY * left[1.0] else 1.0


def _left_by_mean(frequency: Floats, length: int) -> Floats:
    """Return what a running mean of so many, taken away, leaves of waves of a frequency in cycles per px.

    It keeps sin(pi f n) / (n sin(pi f)) of them (Dirichlet's kernel over n).

    >>> _left_by_mean(np.array([0.125, 0.5]), 8).round(9).tolist()
    [1.0, 1.0]
    """
    turn = np.pi * np.maximum(frequency, np.finfo(float).tiny)
    return np.asarray(np.maximum(1.0 - np.sin(turn * length) / (length * np.sin(turn)), np.finfo(float).tiny))


def _around(values: Floats | Light, down: float, across: float) -> NDArray[np.complex128]:
    """Return the Fourier sums of pictures, (..., rows, cols), at the places between steps around one, by BETWEEN."""
    rows, cols = values.shape[-2:]
    turns = -2j * np.pi
    lines = np.exp(turns / rows * (down + BETWEEN)[:, None] * np.arange(rows))
    columns = np.exp(turns / cols * np.arange(cols)[:, None] * (across + BETWEEN))
    return np.asarray(lines @ values @ columns)


def _lines(view: View, axis: int, period: float, phase: float) -> Place:
    """Return lines along the middles of the dark bands."""
    rows, cols = view.light.shape
    along = rows if axis == 0 else cols
    first = ((math.pi - phase) / (2 * math.pi) % 1.0) * period
    places = np.arange(first, along, period)
    places = places[:: max(1, math.ceil(len(places) / MOST_BANDS_SHOWN))]
    if axis == 0:
        return Place("line", tuple(np.array([[0.0, y], [cols - 1.0, y]]) for y in places))
    return Place("line", tuple(np.array([[x, 0.0], [x, rows - 1.0]]) for x in places))


def _bare_tiles(view: View) -> list[tuple[int, int]]:
    """Return first row and column of tiles that show nothing but bare light, spread over the frame."""
    step = view.outline.step_px
    side = math.ceil(TILE_PX / step) + 1
    shown = cv2.erode(view.seen.astype(np.uint8), np.ones((side, side), np.uint8), anchor=(0, 0), borderValue=0)
    rows, cols = view.light.shape
    places = [
        (int(row) * step, int(col) * step)
        for row, col in np.argwhere(shown[:: max(side // 2, 1), :: max(side // 2, 1)]) * max(side // 2, 1)
        if row * step + TILE_PX <= rows and col * step + TILE_PX <= cols
    ]
    return places[:: max(1, math.ceil(len(places) / MOST_TILES))]


def _fine_swing(view: View, corners: list[tuple[int, int]]) -> float:
    """Return the swing of the strongest wave in tiles of the light.

    Waves along an axis alone may be bands: a grid has them along both, and the weaker of the two counts.
    """
    if not corners:
        return math.nan
    tiles = np.stack([view.light[row : row + TILE_PX, col : col + TILE_PX] for row, col in corners])
    logs = np.log(np.maximum(tiles, FAINTEST))
    window = np.hanning(TILE_PX + 2)[1:-1].astype(np.float32)
    window = window[:, None] * window[None, :]
    logs = (logs - logs.mean(axis=(1, 2), keepdims=True)) * window
    swing = 4.0 * np.sqrt((np.abs(fft.rfft2(logs)) ** 2).mean(axis=0)) / window.sum()
    down, across, counted = _fine_waves()
    best = _of_grid(np.where(counted, swing, 0.0), down, across, logs) / float(window.sum())
    return best if best > OVER_FLOOR * median(swing[counted][::5]) else 0.0


def _broad_swing(view: View, behind: Light) -> float:
    """Return the swing of the strongest wave in the coarse picture, likewise.

    Averaging over squares of the picture has left sinc(f) of waves of f cycles a square, down and across.
    """
    shape = (view.coarse.shape[1] // 2, view.coarse.shape[0] // 2)
    over = np.log(np.maximum(view.coarse, FAINTEST) / np.maximum(behind, FAINTEST))
    over = cv2.resize(np.where(view.seen, over, 0.0), shape, interpolation=cv2.INTER_AREA)
    weight = cv2.resize(view.seen.astype(np.float32), shape, interpolation=cv2.INTER_AREA)
    weight = np.where(weight > 0.99, cv2.blur(weight, (3, 3)), 0.0)  # noqa: PLR2004
    over -= (over * weight).sum() / weight.sum()
    rows, cols = (2 * side for side in over.shape)  # twice the size, so that no wave falls between two steps
    seen = np.asarray(over * weight, np.float32)
    swing = 4.0 * np.abs(fft.rfft2(seen, (rows, cols))) / weight.sum()
    down, across, counted = _broad_waves(rows, cols)
    best = _of_grid(np.where(counted, swing, 0.0), down, across, seen[None], averaged=True) / float(weight.sum())
    return best if best > OVER_FLOOR * median(swing[counted][::5]) else 0.0


def _of_grid(swing: Floats, down: Floats, across: Floats, seen: Light, *, averaged: bool = False) -> float:
    """Return the swing of the strongest wave of a grid in pictures, (N, rows, cols), times their weight.

    Of waves along the two axes, which alone may be bands, the weaker counts.
    """
    level, upright = across < ALONG, down < ALONG

    def strongest(where: Mask) -> float:
        at = np.unravel_index(int(np.argmax(np.where(where, swing, 0.0))), swing.shape)
        if not (where[at] and swing[at]):
            return 0.0
        places = float(down[at[0], 0]) * (1 if at[0] <= len(swing) // 2 else -1), float(across[0, at[1]])
        waves = np.sqrt((np.abs(_around(seen, *places)) ** 2).mean(axis=0))
        best = np.unravel_index(int(np.argmax(waves)), waves.shape)
        steps = ((place + BETWEEN[at]) / side for place, at, side in zip(places, best, seen.shape[1:], strict=True))
        return 4.0 * float(waves[best]) / (math.prod(map(float, map(np.sinc, steps))) if averaged else 1.0)

    return max(strongest(~level & ~upright), min(strongest(level & ~upright), strongest(upright & ~level)))


@cache
def _fine_waves() -> tuple[Floats, Floats, Mask]:
    """Return cycles of a tile's waves, down and across, and which of them count."""
    down = np.abs(np.fft.fftfreq(TILE_PX, 1.0 / TILE_PX))[:, None]
    across = np.arange(TILE_PX // 2 + 1.0)[None, :]
    on_block = [np.abs((one + 2) % (TILE_PX // JPEG_PX) - 2) <= 1 for one in (down, across)]
    return down, across, (np.hypot(down, across) >= BROADEST) & ~(on_block[0] & on_block[1])


@lru_cache(maxsize=4)
def _broad_waves(rows: int, cols: int) -> tuple[Floats, Floats, Mask]:
    """Return the same of a coarse picture brought to this size, which is twice its own."""
    down = np.abs(fft.fftfreq(rows, 1.0 / rows))[:, None] / 2
    across = np.arange(cols // 2 + 1)[None, :] / 2
    return down, across, np.hypot(down, across) >= LEAST_CYCLES


TESTS: Final = (
    Test(
        "bands",
        "bands of flickering light",
        "share",
        Limit(0.02, 0.10),
        "clear resin in the dark bands counts as veiled and faint voids are lost",
        "run the lamp on direct current or at full power, or expose for longer than 1/50 s",
        bands,
    ),
    Test(
        "pattern",
        "pattern in the light",
        "share",
        Limit(0.04, 0.15),
        "its dark lines pass for faint voids and veil",
        "put a diffuser over the screen or the lamps, or move the casting away from them",
        pattern,
    ),
)
