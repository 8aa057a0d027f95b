"""Small whole files of every kind that bubblegrade reads, made here: what the fuzz tests damage."""

from __future__ import annotations

import functools
import io
import sqlite3
import tempfile
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image, ImageCms

from bubblegrade.grading_run import Request
from bubblegrade.records.dump import tables_out
from bubblegrade.records.log import Photo, open_log
from bubblegrade.records.tied import Result
from bubblegrade.results.entry import Entry, entry_of
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import Journal
from bubblegrade.results.run import Run, write_run
from bubblegrade.runs.limit_presets import PRESETS
from bubblegrade.runs.log_sheet import log_json, table_csv
from bubblegrade.settings import Settings
from tests.conftest import known_casting

ROWS, COLS = 66, 82  # just over the least that is read


def colour() -> NDArray[np.uint8]:
    """Return a smooth picture with a little noise, (66, 82, 3)."""
    y, x = np.mgrid[0 : 1 : ROWS * 1j, 0 : 1 : COLS * 1j]
    smooth = np.stack([40 + 180 * x, 30 + 150 * y, 60 + 90 * x * y], axis=-1)
    return (smooth + np.random.default_rng(1).integers(0, 9, smooth.shape)).round().astype(np.uint8)


def _exif() -> Image.Exif:
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Example", "Example One", 6
    exif.get_ifd(0x8769).update({0x9003: "2026:05:03 14:22:10", 0x9011: "+02:00", 0x920A: 4.2, 0x829A: 0.01})
    return exif


def _saved(kind: str, **options: Any) -> bytes:
    data = io.BytesIO()
    Image.fromarray(colour()).save(data, kind, **options)
    return data.getvalue()


def _tiff(pixels: NDArray[Any], **options: Any) -> bytes:
    data = io.BytesIO()
    tifffile.imwrite(data, pixels, **options)
    return data.getvalue()


def _dng() -> bytes:
    """Return a raw picture of a colour filter after the DNG specification, 14 bits in 16."""
    mosaic = (colour()[..., 1].astype(np.uint16) * 60).clip(0, 16383)
    tags = [
        (33421, "H", 2, (2, 2), True),  # the filter's period
        (33422, "B", 4, bytes((0, 1, 1, 2)), True),  # red, green, green, blue
        (50706, "B", 4, bytes((1, 4, 0, 0)), True),  # version
        (50708, "s", 0, "Example One", True),
        (50717, "I", 1, 16383, True),  # white
        (50721, "2i", 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), True),
        (50728, "2I", 3, (1, 2, 1, 1, 2, 3), True),  # as shot neutral
        (50778, "H", 1, 21, True),  # D65
    ]
    return _tiff(mosaic, photometric=32803, extratags=tags)


@functools.cache
def pictures() -> dict[str, bytes]:
    """Return pictures by their file's name."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    deep = colour().astype(np.uint16) * 256 + 77
    found = {
        "noted.jpg": _saved("JPEG", quality=80, exif=_exif(), icc_profile=profile),
        "progressive.jpg": _saved("JPEG", quality=60, progressive=True),
        "noted.png": _saved("PNG", exif=_exif(), icc_profile=profile),
        "deep.png": bytes(cv2.imencode(".png", deep)[1].tobytes()),
        "noted.tif": _saved("TIFF", compression="tiff_lzw", exif=_exif(), icc_profile=profile),
        "deep.tif": _tiff(deep, photometric="rgb"),
        "tiles.tif": _tiff(colour(), photometric="rgb", tile=(32, 32), compression="zlib"),
        "raw.dng": _dng(),
    }
    try:
        import pillow_heif  # noqa: PLC0415
    except ImportError:
        return found
    data = io.BytesIO()
    picture = pillow_heif.from_pillow(Image.fromarray(colour()))
    picture.info["exif"] = _exif().tobytes()
    picture.save(data, quality=60)
    return found | {"noted.heic": data.getvalue()}


SHEETS = {
    "trial": b"photo,pressure,mix,altitude,temperature_close,temperature_gel,gel_time\n"
    b"cup.jpg,40psi,a,1500m,24C,32C,20min\ncup.jpg,4 bar gauge,b,,,,\n",
    "pieces": b"photo,piece,side\npieces.csv,1,front\npieces.csv,1,back\n",
    "readings": b"time;gauge;temperature\n0min;60psi;24C\n2h;59,5psi;23C\n",
    "log": b'date,resin,mould,gauge gel (psi),humidity,remarks\n2026-03-01,Clear One,"lure 3",58,45%,"a ""b""\nc"\n',
}
TEXTS = {
    "limits": PRESETS["clear-lure"].encode(),
    "settings": b"index = 1.55\nsmallest_px = 6\ngrades = {spotless = 97, sparse = 85, speckled = 60, bubbly = 30, "
    b"foamy = 0}\n",
    "pot": b'name = "the blue pot"\nrated_pressure = "60psi"\nrelief_setting = "58psi"\ngauge_range = "0-100 psi"\n'
    b'gauge_class = "B"\nfree_volume = "7.5l"\nlast_inspection = 2025-03-31\n',
}


def _entry() -> Entry:
    """Return a photograph's part of a result."""
    return entry_of(known_casting())


@functools.cache
def results() -> dict[str, bytes]:
    """Return the files of a result and of a run that was cut short, by their names."""
    request, settings = Request(mm_per_px=0.05), Settings()
    run = Run("0", request, settings, None, (_entry(),), (), ("cup-marked.jpg",))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with ResultFolder.prepare(folder, replace=False) as out:
            write_run(out, run)
        Journal.begin(folder, {"format": 1}).enter(_entry(), "cup-marked.jpg", b"picture")
        return {name: (folder / name).read_bytes() for name in ("run.json", "castings.csv", "run.journal")}


@functools.cache
def logs() -> dict[str, bytes]:
    """Return a log of four castings and its exports, by their files' names."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place, "log.sqlite")
        with open_log(path, create=True, clock=lambda: 1.7e9) as log:
            for number in range(4):
                log.add(
                    {"date": "2026-03-01", "resin": "Clear One", "gauge_gel": f"{40 + number}psi", "remarks": "=1+1\n"},
                    photos=[Photo("cup.jpg", f"{number}" * 64)],
                )
            log.note(1, "new hardener", cause=True)
            log.correct(2, {"gauge_gel": "57psi"}, why="misread")
            log.tie(1, [Result("hold", "hold.json", "a" * 64, "{}")])
            log.connection.execute("PRAGMA journal_mode = DELETE")
            tables = {name: (columns, list(rows)) for name, (columns, rows) in tables_out(log.connection)}
        sheets = {f"{name}.csv": table_csv(table).encode() for name, table in tables.items()}
        return {"log.sqlite": path.read_bytes(), "log.json": log_json(iter(tables.items())).encode(), **sheets}


def castings_of(path: Path) -> list[tuple[object, ...]]:
    """Return the castings of a log, row for row."""
    connection = sqlite3.connect(path)
    try:
        return connection.execute("SELECT * FROM casting ORDER BY id").fetchall()
    finally:
        connection.close()
