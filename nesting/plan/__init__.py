"""The plan room: the model of a plan, its cut trees, and plan.json out and in."""
