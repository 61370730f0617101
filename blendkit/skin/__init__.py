"""What a bottle amounts to on skin, beside published limits."""
