"""The gas in the voids, what pressure did to them, and what more of it would do.

    cups ──> Trial ──> likelihood ──> Shrinkage ──> by_setting, free_check, recut, checks ──> verdict ──> Comparison
    cups.py            maximised       shrinkage.py                                           suspects    comparison.py
    Shrinkage ──> Decision ──> advice, limits first
                  enough.py    advice.py

`comparison.compare` orders the steps. Diameters may be in any one unit; pressures inside are kPa absolute, and what a
dial shows stays a `GaugePressure`.
"""
