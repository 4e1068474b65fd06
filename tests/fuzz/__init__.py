"""Whatever comes from outside, changed at random until it goes where no test has been.

`python -m tests.fuzz [TARGET...] --minutes N` goes on until the time is up and keeps what fails in `broken` beside it;
the suite runs a short form of it, and every input that ever failed, in tests/fuzz/test_fuzz.py.
"""
