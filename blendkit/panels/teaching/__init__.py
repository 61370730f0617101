"""A class: plan, card, hand-outs and results."""
