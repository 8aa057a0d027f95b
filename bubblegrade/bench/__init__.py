"""The bench: a page in the browser for the whole job, served from this machine. Its state is on the disk.

views_*.py    one page each, with a template of its own; `app.PAGES` lists them
app.py        the routes put together
guard.py      who may ask: host, origin, token, one-time code
folder.py     what is in the folder; no name from a browser leads out of it
castings.py   a graded casting with its corrections
forms.py      what a form asks, as sent and as kept in FOLDER/bench; trial.py, holding.py and inspecting.py answer it
answers.py    an answer: the report of the same question, its words in the page's labels, its plots by address
pictures.py   a photograph as tiles
work.py       grading, one photograph after another in a process of its own
"""
