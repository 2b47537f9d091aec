"""The certificate of a lot rating: from the readings to the rate, for a stranger to retrace."""
