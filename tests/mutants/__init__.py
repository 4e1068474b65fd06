"""Do the tests bite? Small faults are put into the source, and the tests that reach them must fail."""
