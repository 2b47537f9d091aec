"""What hand-over pages and papers caution of."""

CAUTIONS = (
    "A line pull is what the pads bear, and no permission to pull: whatever it says, the crane’s "
    "own chart is never passed, and a qualified person decides. Keep clear of a stretched line."
)
