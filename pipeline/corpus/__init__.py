"""A local corpus of full texts that sweeps are put to like to any other source."""
