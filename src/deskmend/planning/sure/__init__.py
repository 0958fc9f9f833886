"""How sure a plan is, over what measures, prices and limits may be."""
