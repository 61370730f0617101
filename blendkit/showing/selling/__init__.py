"""Pages and fragments of selling."""
