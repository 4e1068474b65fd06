"""Runs of the engine between the tests: how long, how they ended, and whether a change helped or it was luck.

run, durations: what is noted. logrank, looks, median: the statistics. allowances: what else may have changed.
compare: before against after. shows: what the runs say of the cause.
"""
