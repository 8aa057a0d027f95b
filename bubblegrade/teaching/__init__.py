"""How the networks of voids/ were taught: pictures of known truth become lessons, lessons become weights.

`DEVELOPERS.md` has the commands that made them. Needs the extra `teach`. Grading never imports this room.
"""
