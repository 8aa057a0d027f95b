"""The gas in the voids, what pressure did to them, and what more of it would do.

    cups ──> Trial ──> likelihood ──> Shrinkage ──> by_setting, free_check, checks ──> verdict, suspects ──> Comparison
    cups.py            maximised      shrinkage.py                                                         comparison.py
    Shrinkage ──> Decision ──> advice, limits first
                  enough.py    advice.py
    readings ──> Series ──> Leak ──> Held ──> advice        resin ──> Window       pressures ──> Expectation
                            leak.py  hold.py  hold_advice.py          window.py                  expectation.py

`comparison.compare`, `hold.hold`, `window.resin_window` and `expectation.expect` order the steps. Diameters
may be in any one unit; pressures inside are kPa absolute, and what a dial shows stays a `GaugePressure`.
"""
