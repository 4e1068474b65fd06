"""One test examined whole: sized, judged as its circuit asks, the rig taken off, put beside the idle air."""
