"""Whether the site is fit to be relied on: for whoever keeps the machine, and for monitors."""
