"""Reports: one self-contained HTML file that needs no network, to look at, to print and to pass on."""
