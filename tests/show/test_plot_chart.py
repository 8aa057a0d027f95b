"""The picture of a control chart: the same bytes for the same numbers, what stands out, causes, the newest only."""

from __future__ import annotations

import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from bubblegrade.quality.charts import Chart, count_chart, individuals_chart
from bubblegrade.show.plot_chart import DRAWN, Run, control_chart

# NIST/SEMATECH e-Handbook of Statistical Methods 6.3.3.1: defects on 25 wafers (rows from memory).
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]


def run(chart: Chart, **said: object) -> Run:
    return Run(chart, tuple(range(1, len(chart.values) + 1)), "voids per casting", "25 castings.", **said)  # type: ignore[arg-type]


def words_in(svg: str) -> str:
    return " ".join(ElementTree.fromstring(svg).itertext())  # noqa: S314 - our own picture


def test_the_same_chart_gives_the_same_bytes_and_a_picture_of_its_size() -> None:
    one, other = (control_chart(run(count_chart(WAFERS))) for _ in range(2))
    assert (one.svg, one.png) == (other.svg, other.png)
    with Image.open(io.BytesIO(one.png)) as picture:
        assert picture.size == (1350, 855)


def test_what_stands_out_is_marked_and_named() -> None:
    svg = control_chart(run(count_chart(WAFERS))).svg
    assert 'id="beyond"' in svg
    assert "beyond the limits" in words_in(svg)
    calm = control_chart(run(individuals_chart([1.0, 2.0, 1.5, 1.0, 2.0]))).svg
    assert 'id="beyond"' not in calm
    assert "a run ends here" not in words_in(calm)
    rising = control_chart(run(individuals_chart([*[5.0, 1.0] * 4, 1, 2, 3, 4, 5, 6, 7]))).svg
    assert 'id="runs"' in rising


def test_causes_are_lettered_and_those_beyond_the_room_are_counted() -> None:
    chart = count_chart(WAFERS)
    said = words_in(control_chart(run(chart, causes={23: "new operator", 2: "damp " * 60})).svg)
    assert "a casting 3: damp damp" in said
    assert "b casting 24: new operator" in said
    assert "and 6 more causes, in the list of signals" in words_in(
        control_chart(run(chart, causes=dict.fromkeys(range(9), "x"))).svg
    )


def test_of_many_causes_those_where_something_stands_out_are_told() -> None:
    causes = {**dict.fromkeys(range(6), "nothing much"), 23: "new operator"}
    assert "g casting 24: new operator" in words_in(control_chart(run(count_chart(WAFERS), causes=causes)).svg)


def test_centre_and_limits_are_named_apart_where_they_lie_close() -> None:
    chart = individuals_chart([*[1.0, 1.001] * 10, 9.0], base=slice(0, 20))
    heights = {}
    for text in ElementTree.fromstring(control_chart(run(chart)).svg).iter("{http://www.w3.org/2000/svg}text"):  # noqa: S314 - our own picture
        words = "".join(text.itertext()).strip()
        if words in {"centre", "lower limit", "upper limit"}:
            heights[words] = float(text.get("y") or text.get("transform", "").split()[-1].strip("()").split()[-1])
    assert heights["lower limit"] - heights["centre"] > 12.0  # px, downwards
    assert heights["centre"] - heights["upper limit"] > 12.0


def test_of_a_long_log_the_newest_castings_are_drawn_and_that_is_said() -> None:
    chart = count_chart(np.full(DRAWN + 50, 16))
    said = words_in(control_chart(run(chart, causes={0: "long ago"})).svg)
    assert f"Drawn are the last {DRAWN} of {DRAWN + 50} castings." in said
    assert "long ago" not in said


@pytest.mark.parametrize(("base", "named"), [(10, True), (None, False)])
def test_the_castings_that_the_limits_come_from_are_marked(base: int | None, *, named: bool) -> None:
    chart = individuals_chart(WAFERS, base=None if base is None else slice(0, base))
    assert ("limits from these" in words_in(control_chart(run(chart, base=base)).svg)) is named


def test_remarks_stand_under_the_heading_and_the_picture_grows_by_their_lines() -> None:
    remark = "Castings 4 to 6 were graded with the whole lit frame, the others with an outline: grade them alike. " * 4
    bare, remarked = (control_chart(run(count_chart(WAFERS), remarks=said)) for said in ((), (remark,)))
    assert "Castings 4 to 6 were graded with the whole lit frame" in words_in(remarked.svg)
    assert height_pt(remarked.svg) - height_pt(bare.svg) == pytest.approx(2 * 0.2 * 72)  # two lines over three


def height_pt(svg: str) -> float:
    """Return the height of a picture."""
    return float(ElementTree.fromstring(svg).attrib["height"].removesuffix("pt"))  # noqa: S314 - our own picture
