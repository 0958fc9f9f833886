"""One fund shared among many people, with proof."""
