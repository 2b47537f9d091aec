"""Set-up: what the yard owns, entered, changed on record and taken out of use inside the site."""
