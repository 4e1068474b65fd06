"""An independent workshop: engines drawn, played and answered for by tables and physics of its own.

Nothing here reads the knowledge files under test. Its odds, ratios and chances of seeing are those of a second
elicitation (common practice, no source), its holds are integrated by scipy (tests/fit/truth.py).
"""
