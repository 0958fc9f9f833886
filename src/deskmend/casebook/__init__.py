"""The casebook: visits, what was done and paid, how it felt, and what can be counted from it."""
