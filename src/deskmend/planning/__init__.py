"""From a case, a catalog and prices to a proven plan: what can be chosen, exact tables, plan, order."""
