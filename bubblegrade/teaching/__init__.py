"""How the judge of voids/judging.py was taught: pictures of known truth become lessons, lessons become weights.

    python -m bubblegrade.drawn.variety --count 330 --seed 2 --out traced
    python -m bubblegrade.teaching --traced traced --drawn 160 --out bubblegrade/voids/judge.npz

Needs the extra `teach`. Grading never imports this room.
"""
