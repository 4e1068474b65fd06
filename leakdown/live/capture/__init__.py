"""A port to a recording on disk: threads, clock, watch. Nothing that arrives is lost."""
