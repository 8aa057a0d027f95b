"""Many castings as statistics: control charts, acceptance sampling, one factor against the rest."""
