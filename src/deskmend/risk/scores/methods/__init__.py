"""Every module in this folder registers a published score; see `deskmend.risk.scores.method`."""
