"""How sure a plan is."""
