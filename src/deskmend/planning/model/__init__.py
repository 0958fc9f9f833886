"""The exact model of a case: what can be chosen, rules, and tables of strain over decisions."""
