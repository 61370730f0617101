"""Making more of a blend: scaling, weighing, stock, cost and shopping."""
