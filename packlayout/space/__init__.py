"""Space: envelopes from tape stations, free cells, exact clearances."""
