"""Figures as ratios within one run. Each module has `measure(quick)`, which yields `Figure`s."""
