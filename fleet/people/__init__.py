"""People: who may sign in, as what, from which yard; and their passwords."""
