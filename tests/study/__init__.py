"""How good are the answers, regime by regime: `python -m tests.study [REGIME...]`. See `regimes`."""
