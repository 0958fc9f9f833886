"""Published scores of a workplace: their items read from measured quantities."""
