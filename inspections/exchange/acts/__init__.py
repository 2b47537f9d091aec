"""How each table's rows are put on record, through the functions the site records with."""
