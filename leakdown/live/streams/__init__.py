"""Lines one after the other to samples. Pure: arrival times come from the caller."""
