"""Measure the voids in clear resin castings from photographs on a backlight.

    file ──> Photo ──> light ──> transmittance ──> outline ──> voids ──> sizes, clarity ──> Casting
             photo/              casting/                      voids/    grading/           grading_run.py
    Casting ──> results on disk, tables, marked pictures
                results/         show/

`grading_run.grade` orders the steps; no step knows another.
"""
