"""A batch: quantities, cost, shopping and the label."""
