"""Which hammer suits pulling a pile out of the ground: the extraction check."""
